use std::ops::Range;

use super::Source;

/// A string with the way back from each of its bytes to the file.
///
/// Every reader of rows takes one: chords, marks, melodies, the bars of a style. It may stand in the
/// file as it is, or be put together from pieces of several places, each of which keeps its own; what
/// is wrong with it is then shown where it was written.
///
/// ```
/// use openchair::text::{Source, Text};
///
/// // A row of chords, each from a line of its own.
/// let source = Source::new("tune.txt", "1. G\n2. Zz\n")?;
/// let mut row = Text::nothing_at(0);
/// for range in [3..4, 8..10] {
///     row.push_from(&source, range);
///     row.push(" | ", 10..10);
/// }
/// assert_eq!(row.value, "G | Zz | ");
/// let at = row.value.find("Zz").unwrap_or_default();
/// assert_eq!(row.span(at..at + 2), 8..10);
/// assert_eq!(source.position(8), (2, 4));
/// # Ok::<(), openchair::text::TooLarge>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text {
    /// The string that is meant.
    pub value: String,
    /// Where all of it stands, quotes included where the file has some.
    whole: Range<usize>,
    /// In the order of `value`; never empty.
    pieces: Vec<Piece>,
}

/// A part of a text, up to where the next one begins.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Piece {
    /// Its first byte in the value.
    at: usize,
    /// What it was made from.
    span: Range<usize>,
    /// True if each of its bytes has its own in the file; else they all have the whole span.
    alike: bool,
}

impl Text {
    /// A string that stands in the file as it is, from byte `start` on.
    ///
    /// ```
    /// use openchair::text::Text;
    ///
    /// let row = Text::at("| G | Zz |", 40);
    /// assert_eq!(row.span(6..8), 46..48);
    /// ```
    pub fn at(value: impl Into<String>, start: usize) -> Self {
        let value = value.into();
        let span = start..start + value.len();
        Self { value, whole: span.clone(), pieces: vec![Piece { at: 0, span, alike: true }] }
    }

    /// An empty text at byte `start`, to be put together with [`Self::push`].
    pub fn nothing_at(start: usize) -> Self {
        Self::at("", start)
    }

    /// A stretch of a source; `None` if `range` is not one of whole characters of it.
    pub fn of(source: &Source, range: Range<usize>) -> Option<Self> {
        Some(Self::at(source.text.get(range.clone())?, range.start))
    }

    /// A string whose bytes all come from `span`: the value of an entity or an escape, or a word that
    /// follows from another.
    pub fn made_from(value: impl Into<String>, span: Range<usize>) -> Self {
        let mut text = Self::nothing_at(span.start);
        text.push(&value.into(), span.clone());
        text.whole = span;
        text
    }

    /// Adds `value` at the end, all of which comes from `span`: an escape, or a bar line that the file
    /// does not have and that stands for the place between two of its words.
    pub fn push(&mut self, value: &str, span: Range<usize>) {
        self.add(value, span, false);
    }

    /// Adds a stretch of a source at the end, byte for byte. Nothing is added if `range` is not one of
    /// whole characters of it.
    pub fn push_from(&mut self, source: &Source, range: Range<usize>) {
        if let Some(value) = source.text.get(range.clone()) {
            self.add(value, range, true);
        }
    }

    /// Adds a character that stands on `span`. One that stands there as it is goes on with the piece
    /// before it, if that ends there.
    pub(super) fn push_char(&mut self, value: char, span: Range<usize>) {
        let alike = span.len() == value.len_utf8();
        let joins = |last: &Piece| alike && last.alike && last.span.end == span.start;
        if self.pieces.last().is_some_and(joins) {
            self.value.push(value);
            if let Some(last) = self.pieces.last_mut() {
                last.span.end = span.end;
            }
            self.whole = self.whole.start..self.whole.end.max(span.end);
        } else {
            self.add(value.encode_utf8(&mut [0; 4]), span, alike);
        }
    }

    fn add(&mut self, value: &str, span: Range<usize>, alike: bool) {
        if value.is_empty() {
            return;
        }
        if self.value.is_empty() {
            self.pieces.clear();
            self.whole = span.clone();
        }
        self.whole = self.whole.start.min(span.start)..self.whole.end.max(span.end);
        self.pieces.push(Piece { at: self.value.len(), span, alike });
        self.value.push_str(value);
    }

    /// The same text, standing between quotes or brackets on `whole`.
    #[must_use]
    pub(super) fn within(mut self, whole: Range<usize>) -> Self {
        self.whole = whole;
        self
    }

    /// Where `range` of [`Self::value`] stands in the file. A range that goes past the end ends there.
    pub fn span(&self, range: Range<usize>) -> Range<usize> {
        let start = self.place(range.start).map_or(0, |(piece, off)| {
            // One that is not alike has one place for all its bytes; past the end is behind the last.
            let end = range.start >= self.value.len();
            if piece.alike {
                (piece.span.start + off).min(piece.span.end)
            } else if end {
                piece.span.end
            } else {
                piece.span.start
            }
        });
        if range.is_empty() {
            return start..start;
        }
        // The next character may stand lines further down; the last one's own end does not.
        let end = self.place(range.end - 1).map_or(start, |(piece, off)| {
            if piece.alike {
                (piece.span.start + off + 1).min(piece.span.end)
            } else {
                piece.span.end
            }
        });
        start..end.max(start)
    }

    /// Where all of it stands, with its quotes where the file has some.
    pub fn whole(&self) -> Range<usize> {
        self.whole.clone()
    }

    /// Where all of it stands, without quotes.
    pub fn inside(&self) -> Range<usize> {
        self.span(0..self.value.len())
    }

    /// A part of it, with its way back. `range` is held to the text and must be one of whole
    /// characters; else the part is empty.
    #[must_use]
    pub fn part(&self, range: Range<usize>) -> Self {
        let range = range.start.min(self.value.len())..range.end.min(self.value.len());
        let Some(value) = self.value.get(range.clone()) else {
            return Self::nothing_at(self.span(range).start);
        };
        if value.is_empty() {
            return Self::nothing_at(self.span(range).start);
        }
        let mut part = Self::nothing_at(0);
        for (index, piece) in self.pieces.iter().enumerate() {
            let next = self.pieces.get(index + 1).map_or(self.value.len(), |next| next.at);
            let own = piece.at.max(range.start)..next.min(range.end);
            if own.start < own.end {
                let span = if piece.alike { self.span(own.clone()) } else { piece.span.clone() };
                part.add(&self.value[own], span, piece.alike);
            }
        }
        part
    }

    /// The part without blanks around it.
    #[must_use]
    pub fn trimmed(&self) -> Self {
        let start = self.value.len() - self.value.trim_start().len();
        self.part(start..start + self.value.trim().len())
    }

    /// The piece of a byte, and how far into it the byte lies.
    fn place(&self, at: usize) -> Option<(&Piece, usize)> {
        let index = self.pieces.partition_point(|piece| piece.at <= at).checked_sub(1)?;
        self.pieces.get(index).map(|piece| (piece, at - piece.at))
    }
}

/// A value and the bytes of the file that it stands on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placed<T> {
    /// The value.
    pub value: T,
    /// Where it stands; without quotes where it is text.
    pub span: Range<usize>,
}

impl<T> Placed<T> {
    /// `value` at `span`.
    pub const fn new(value: T, span: Range<usize>) -> Self {
        Self { value, span }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn pieces_keep_their_places() {
        let source = Source::new("t", "0123456789 äö").unwrap();
        let mut text = Text::nothing_at(3);
        assert_eq!(text.span(0..0), 3..3);
        text.push_from(&source, 5..8);
        text.push("|", 8..8);
        text.push_from(&source, 11..15);
        text.push_from(&source, 12..13);
        assert_eq!(text.value, "567|äö");
        assert_eq!(text.span(1..2), 6..7);
        assert_eq!(text.span(3..4), 8..8);
        assert_eq!(text.span(4..6), 11..13);
        assert_eq!(text.span(0..8), 5..15);
        assert_eq!(text.span(8..8), 15..15);
        assert_eq!(text.whole(), 5..15);
        let part = text.part(2..6);
        assert_eq!((part.value.as_str(), part.span(0..1), part.span(2..4)), ("7|ä", 7..8, 11..13));
    }

    #[test]
    fn pieces_may_stand_in_any_order() {
        let source = Source::new("t", "one two").unwrap();
        let mut text = Text::nothing_at(0);
        text.push_from(&source, 4..7);
        text.push_from(&source, 0..3);
        assert_eq!((text.span(0..3), text.span(3..6)), (4..7, 0..3));
        assert_eq!(text.span(2..4), 6..6);
    }

    proptest! {
        #[test]
        fn what_is_pushed_is_found(
            pieces in prop::collection::vec((0..20usize, 0..6usize, any::<bool>()), 1..8),
        ) {
            let source = Source::new("t", "abcdefghijklmnopqrstuvwxyz").unwrap();
            let mut text = Text::nothing_at(0);
            let mut want = Vec::new();
            for (start, length, alike) in pieces {
                let range = start..start + length;
                if alike {
                    text.push_from(&source, range.clone());
                    want.extend(range.map(|at| at..at + 1));
                } else {
                    text.push("é", range.clone());
                    want.extend([range.clone(), range]);
                }
            }
            for (at, want) in want.iter().enumerate() {
                prop_assert_eq!(&text.span(at..at + 1), want);
            }
            prop_assert_eq!(text.value.len(), want.len());
            for start in 0..=want.len() {
                for end in start..=want.len() {
                    let part = text.part(start..end);
                    let whole = text.value.get(start..end);
                    prop_assert_eq!(part.value.as_str(), whole.unwrap_or_default());
                    for at in 0..part.value.len() {
                        prop_assert_eq!(part.span(at..at + 1), text.span(start + at..start + at + 1));
                    }
                }
            }
        }
    }
}
