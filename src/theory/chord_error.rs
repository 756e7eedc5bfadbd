use std::ops::Range;

use thiserror::Error;

use super::quality_alias::meant;
use super::roman::in_digits;
use super::{Chord, PitchName, Quality};
use crate::text::nearest_alone;

/// Why a text is no chord. The message says what is wrong, [`ChordError::range`] where in the text,
/// and [`ChordError::help`] what to write instead.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum ChordError {
    /// Nothing is written.
    #[error("a chord is missing")]
    Empty,
    /// It begins with no root.
    #[error("no chord starts with `{found}`")]
    Root {
        /// The first character.
        found: char,
        /// The chord that is meant, if its root is written small.
        instead: Option<String>,
        /// Where it stands.
        range: Range<usize>,
    },
    /// It begins as a number, but with no degree of the scale.
    #[error("`{found}` is no degree of the scale")]
    Degree {
        /// What stands in the degree's place.
        found: String,
        /// The chord that is meant, if it is no number but a symbol with a small root.
        instead: Option<String>,
        /// Where it stands.
        range: Range<usize>,
    },
    /// What follows the root is no quality.
    #[error("`{found}` is no chord quality")]
    Quality {
        /// What is written.
        found: String,
        /// The quality it comes nearest to, if any is near.
        near: Option<&'static str>,
        /// Where it stands.
        range: Range<usize>,
    },
    /// A bare `2` or `4` after the root, which players read in more than one way.
    #[error("`{found}` after a root is read in more than one way")]
    TwoWays {
        /// What is written.
        found: String,
        /// Where it stands.
        range: Range<usize>,
    },
    /// It is a degree in Roman numerals; charts of the trade have digits.
    #[error("`{found}` is a Roman numeral")]
    Roman {
        /// What is written.
        found: String,
        /// The same in digits.
        instead: String,
        /// Where it stands.
        range: Range<usize>,
    },
    /// What follows the slash is no note.
    #[error("{}", wrong_bass(found, "note", "is no bass note"))]
    Bass {
        /// What is written.
        found: String,
        /// Where it stands; the slash itself when nothing follows it.
        range: Range<usize>,
    },
    /// What follows the slash of a number is no degree.
    #[error("{}", wrong_bass(found, "degree", "is no degree of the scale to put in the bass"))]
    BassDegree {
        /// What is written.
        found: String,
        /// Where it stands; the slash itself when nothing follows it.
        range: Range<usize>,
    },
}

fn wrong_bass(found: &str, what: &str, is_none: &str) -> String {
    if found.is_empty() {
        format!("no {what} follows the slash")
    } else {
        format!("`{found}` {is_none}")
    }
}

/// A few qualities that show how one is written.
const SAMPLE: &str = "m, 7, m7, maj7, 6, 9, add9, sus4, dim, aug";

impl ChordError {
    /// The bytes of the text at fault.
    pub fn range(&self) -> Range<usize> {
        match self {
            Self::Empty => 0..0,
            Self::Root { range, .. }
            | Self::Degree { range, .. }
            | Self::Quality { range, .. }
            | Self::TwoWays { range, .. }
            | Self::Roman { range, .. }
            | Self::Bass { range, .. }
            | Self::BassDegree { range, .. } => range.clone(),
        }
    }

    /// What to write instead, as one sentence without a full stop.
    pub fn help(&self) -> String {
        match self {
            Self::Empty => "write a chord such as `G` or a number such as `1`".to_owned(),
            Self::Root { instead: Some(chord), .. } | Self::Degree { instead: Some(chord), .. } => {
                format!("write the root as a capital: `{chord}`")
            }
            // What else is wrong is told once the root is right.
            Self::Root { found: 'a'..='g', .. } => "write the root as a capital letter".to_owned(),
            Self::Root { found: '.' | '-' | '_', .. } => {
                "write `/` where the chord goes on, or N.C. where the band is silent".to_owned()
            }
            Self::Root { found: '/', .. } => "put a space between slashes: `/ /`".to_owned(),
            Self::Root { .. } => "roots are A to G with # or b, or a number from 1 to 7".to_owned(),
            Self::Degree { .. } => {
                "degrees are 1 to 7, with one b or # before them at most: `4`, `b7`, `#4`"
                    .to_owned()
            }
            Self::Quality { near: Some(near), .. } => format!("did you mean `{near}`?"),
            Self::Quality { found, .. } if joins_another(found) => {
                "put a space alone between two chords".to_owned()
            }
            Self::Quality { near: None, .. } => {
                format!("write one that there is, such as {SAMPLE}")
            }
            Self::TwoWays { found, .. } => {
                let note = if found == "2" { 9 } else { 11 };
                let sus = format!("write `sus{found}` if it stands in place of the third");
                // There is no add11 among the qualities, so only the 2 has a second reading to offer.
                if note == 9 { format!("{sus}, `add9` if it is added") } else { sus }
            }
            Self::Roman { instead, .. } => format!("write it as a number: `{instead}`"),
            Self::Bass { found, .. } => note_with_capital(found).map_or_else(
                || "write one note after the slash, as in `G/B` or `D/F#`".to_owned(),
                |note| format!("write it as a capital: `{note}`"),
            ),
            Self::BassDegree { .. } => {
                "write one degree after the slash, as in `1/3` or `1/b7`".to_owned()
            }
        }
    }

    pub(super) fn root(place: &Piece<'_>) -> Self {
        if let Some(instead) = in_digits(place.text()) {
            return Self::Roman { found: place.text().to_owned(), instead, range: place.range() };
        }
        match place.text().chars().next() {
            Some(found) => {
                let range = place.first(found.len_utf8());
                Self::Root { found, instead: with_capital(place.text()), range }
            }
            None => Self::Empty,
        }
    }

    pub(super) fn degree(place: &Piece<'_>) -> Self {
        if let Some(instead) = in_digits(place.text()) {
            return Self::Roman { found: place.text().to_owned(), instead, range: place.range() };
        }
        // The marks and the one character that should have been a degree.
        let marks =
            place.text().len() - place.text().trim_start_matches(['b', '#', '♭', '♯']).len();
        let next = place.text().get(marks..).and_then(|rest| rest.chars().next());
        let range = place.first(marks + next.map_or(0, char::len_utf8));
        let found = place.text().get(..range.len()).unwrap_or_default().to_owned();
        Self::Degree { found, instead: with_capital(place.text()), range }
    }

    pub(super) fn quality(place: &Piece<'_>) -> Self {
        let found = place.text().to_owned();
        let range = place.range();
        if found == "2" || found == "4" {
            return Self::TwoWays { found, range };
        }
        // A long text is not a slip of the pen, and is not worth the comparing.
        let near = (found.len() <= 16)
            .then(|| {
                let names = Quality::all().map(Quality::name).filter(|name| !name.is_empty());
                meant(&found).or_else(|| nearest_alone(&found, names))
            })
            .flatten();
        Self::Quality { found, near, range }
    }

    pub(super) fn bass(place: &Piece<'_>) -> Self {
        Self::Bass { found: place.text().to_owned(), range: place.range_or_slash() }
    }

    pub(super) fn bass_degree(place: &Piece<'_>) -> Self {
        Self::BassDegree { found: place.text().to_owned(), range: place.range_or_slash() }
    }
}

/// True for a mark and a second chord that follow a first one: `G-D`, `G,D`.
fn joins_another(found: &str) -> bool {
    let next = found.trim_start_matches([',', ';', '.', '-', '–', '—', '+', '&', '>']);
    next.len() < found.len() && (next.is_empty() || Chord::parse(next).is_ok())
}

/// The chord with its root as a capital, if that is one.
fn with_capital(text: &str) -> Option<String> {
    let capital = |text: &str| -> Option<String> {
        let first = text.chars().next()?.to_ascii_uppercase();
        Some(format!("{first}{}", text.get(first.len_utf8()..)?))
    };
    text.chars().next().filter(char::is_ascii_lowercase)?;
    let chord = capital(text)?;
    let with_bass = || {
        let (head, bass) = chord.rsplit_once('/')?;
        Some(format!("{head}/{}", capital(bass)?))
    };
    [Some(chord.clone()), with_bass()]
        .into_iter()
        .flatten()
        .find(|chord| Chord::parse(chord).is_ok())
}

/// The note with its letter as a capital, if that is one.
fn note_with_capital(text: &str) -> Option<String> {
    let small = text.chars().next().filter(char::is_ascii_lowercase)?;
    let note = format!("{}{}", small.to_ascii_uppercase(), text.get(1..)?);
    matches!(PitchName::read(&note), Some((_, ""))).then_some(note)
}

/// A part of a text that knows where it begins.
#[derive(Clone, Debug)]
pub(super) struct Piece<'a> {
    text: &'a str,
    start: usize,
}

impl<'a> Piece<'a> {
    /// The whole text.
    pub(super) const fn head(text: &'a str) -> Self {
        Self { text, start: 0 }
    }

    /// What is left at the end of `whole`.
    pub(super) const fn tail(whole: &str, rest: &'a str) -> Self {
        Self { text: rest, start: whole.len().saturating_sub(rest.len()) }
    }

    pub(super) const fn text(&self) -> &'a str {
        self.text
    }

    fn range(&self) -> Range<usize> {
        self.start..self.start + self.text.len()
    }

    fn first(&self, bytes: usize) -> Range<usize> {
        self.start..self.start + bytes
    }

    /// Its own bytes, or the one before them (a slash) when it is empty.
    fn range_or_slash(&self) -> Range<usize> {
        if self.text.is_empty() { self.start.saturating_sub(1)..self.start } else { self.range() }
    }

    /// What stands before and after the last `mark`, if it is there.
    pub(super) fn split_at_last(&self, mark: char) -> Option<(Self, Self)> {
        let (before, after) = self.text.rsplit_once(mark)?;
        let start = self.start + before.len() + mark.len_utf8();
        Some((Self { text: before, start: self.start }, Self { text: after, start }))
    }
}

#[cfg(test)]
mod tests {
    use crate::theory::{Chord, Key};

    #[test]
    fn an_error_says_where_what_and_what_instead() {
        let key = Key::parse("G").unwrap();
        for (text, at, message, help) in [
            ("Gmm7", "mm7", "`mm7` is no chord quality", "did you mean `m7`?"),
            (
                "H7",
                "H",
                "no chord starts with `H`",
                "roots are A to G with # or b, or a number from 1 to 7",
            ),
            ("g7", "g", "no chord starts with `g`", "write the root as a capital: `G7`"),
            ("em", "e", "no chord starts with `e`", "write the root as a capital: `Em`"),
            ("bb", "bb", "`bb` is no degree of the scale", "write the root as a capital: `Bb`"),
            ("bm7", "bm", "`bm` is no degree of the scale", "write the root as a capital: `Bm7`"),
            ("d7/f#", "d", "no chord starts with `d`", "write the root as a capital: `D7/F#`"),
            ("G-D", "-D", "`-D` is no chord quality", "put a space alone between two chords"),
            ("G,", ",", "`,` is no chord quality", "put a space alone between two chords"),
            ("gwow", "g", "no chord starts with `g`", "write the root as a capital letter"),
            ("D/f#", "f#", "`f#` is no bass note", "write it as a capital: `F#`"),
            (
                ".",
                ".",
                "no chord starts with `.`",
                "write `/` where the chord goes on, or N.C. where the band is silent",
            ),
            ("//", "/", "no chord starts with `/`", "put a space between slashes: `/ /`"),
            (
                "Bbwow",
                "wow",
                "`wow` is no chord quality",
                "write one that there is, such as m, 7, m7, maj7, 6, 9, add9, sus4, dim, aug",
            ),
            (
                "D/X",
                "X",
                "`X` is no bass note",
                "write one note after the slash, as in `G/B` or `D/F#`",
            ),
            (
                "D/",
                "/",
                "no note follows the slash",
                "write one note after the slash, as in `G/B` or `D/F#`",
            ),
            (
                "8m",
                "8",
                "`8` is no degree of the scale",
                "degrees are 1 to 7, with one b or # before them at most: `4`, `b7`, `#4`",
            ),
            (
                "C2",
                "2",
                "`2` after a root is read in more than one way",
                "write `sus2` if it stands in place of the third, `add9` if it is added",
            ),
            (
                "1/9",
                "9",
                "`9` is no degree of the scale to put in the bass",
                "write one degree after the slash, as in `1/3` or `1/b7`",
            ),
            (
                "1/",
                "/",
                "no degree follows the slash",
                "write one degree after the slash, as in `1/3` or `1/b7`",
            ),
            ("Gminor7", "minor7", "`minor7` is no chord quality", "did you mean `m7`?"),
            ("Cmj", "mj", "`mj` is no chord quality", "did you mean `maj`?"),
            ("Cmj7", "mj7", "`mj7` is no chord quality", "did you mean `maj7`?"),
            ("Gsus7", "sus7", "`sus7` is no chord quality", "did you mean `7sus4`?"),
            ("Ddom", "dom", "`dom` is no chord quality", "did you mean `7`?"),
            ("2Min7", "Min7", "`Min7` is no chord quality", "did you mean `m7`?"),
            ("V7", "V7", "`V7` is a Roman numeral", "write it as a number: `57`"),
            ("bVII", "bVII", "`bVII` is a Roman numeral", "write it as a number: `b7`"),
            (
                "5seven",
                "seven",
                "`seven` is no chord quality",
                "write one that there is, such as m, 7, m7, maj7, 6, 9, add9, sus4, dim, aug",
            ),
        ] {
            let error = Chord::read(text, key).unwrap_err();
            assert_eq!((&text[error.range()], error.to_string()), (at, message.to_owned()));
            assert_eq!(error.help(), help);
        }
    }
}
