use std::ops::Range;

use super::Tune;
use super::bar_row::BarRow;
use super::chord_row::ChordRow;
use super::limits::MOST_BARS;
use super::mark_row::same_length;
use crate::text::{Problems, Text, list};
use crate::theory::{Key, Letter, MidiNote};
use crate::time::{BarMeter, Ticks};

/// The shortest share of a melody: a sixteenth, the running note of a tune in 2/4.
const SHORTEST: Ticks = Ticks::new(240);

const ROW: &str = "melody";

const HELP: &str = "write notes with spaces between, as in `G A B /`: letters are the key's own, \
                    `c` is the C above `C`, `/` holds a note, `-` is a rest";

/// The `melody` row of a section: for each bar as written, the notes, holds and rests that share it
/// equally.
///
/// A note is written as ABC has it (abcnotation.com, "The abc music standard 2.1", sections 4.1 and
/// 4.2): `C` is middle C, `c` the C above it, `,` and `'` go an octave down and up, `^` `_` `=` before
/// a letter are sharp, flat and natural, and letters without are the key's own. As there, an
/// accidental holds for its letter to the end of the bar, in every octave. `(3` puts the three that
/// follow into the time of two, and `(p:q` as many as `p` into that of `q` (section 4.13).
#[derive(Debug)]
pub(super) struct MelodyRow {
    tokens: Vec<MelodyToken>,
    bars: Vec<Range<usize>>,
}

impl MelodyRow {
    /// What stands in a bar as written.
    pub fn bar(&self, written: usize) -> &[MelodyToken] {
        self.bars.get(written).and_then(|bar| self.tokens.get(bar.clone())).unwrap_or_default()
    }

    /// Reads a row that runs along `chords`, if they could be read. Repeat signs are plain bar lines
    /// here.
    pub fn read(
        text: &Text,
        key: Option<Key>,
        chords: Option<&ChordRow>,
        problems: &mut Problems,
    ) -> Self {
        let row = BarRow::read(text, MOST_BARS, problems);
        // Bars that run apart from the chords' would be measured against the wrong meters.
        let even = chords.filter(|chords| same_length(&row, text, ROW, |_| true, chords, problems));
        let signature = signature(key);
        let mut reader = Reader { text, problems, signature, tokens: Vec::new(), bars: Vec::new() };
        for (at, cell) in row.cells.iter().enumerate() {
            let content = if cell.empty { cell.span.end..cell.span.end } else { cell.span.clone() };
            let bar = reader.bar(&cell.span, content);
            if let Some(meter) = even.and_then(|chords| chords.bars.get(at)?.meter) {
                reader.check_split(bar.clone(), meter, &cell.span);
            }
            reader.bars.push(bar);
        }
        Self { tokens: reader.tokens, bars: reader.bars }
    }
}

/// A note, hold or rest as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct MelodyToken {
    pub tune: Tune,
    /// The group that it belongs to.
    pub tuplet: Tuplet,
}

/// How many notes share the time of how many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Tuplet {
    notes: u8,
    time: u8,
}

impl Tuplet {
    /// One in the time of one.
    const NONE: Self = Self { notes: 1, time: 1 };

    /// The most notes of a group: a bar of 4/4 in sixteenths of which each is three.
    pub const MOST: u8 = 96;

    /// The shortest note of a group: a third of a sixty-fourth.
    pub const SHORTEST: Ticks = Ticks::new(20);

    /// Reads `(3` or `(5:4`. What a number alone means is the standard's (section 4.13), where that does
    /// not hang on the meter.
    fn read(word: &str) -> Option<Self> {
        let inside = word.strip_prefix('(')?;
        let (notes, time) = match inside.split_once(':') {
            Some((notes, time)) => (notes.parse().ok()?, time.parse().ok()?),
            None => {
                let notes = inside.parse().ok()?;
                (notes, Self::usual(notes)?)
            }
        };
        let sound = (1..=Self::MOST).contains(&notes) && (1..=Self::MOST).contains(&time);
        sound.then_some(Self { notes, time })
    }

    /// The time that so many notes have where no time is written.
    const fn usual(notes: u8) -> Option<u8> {
        match notes {
            3 | 6 => Some(2),
            2 | 4 | 8 => Some(3),
            _ => None,
        }
    }

    /// As written before `notes` notes in the time of `time` shares.
    pub fn written(notes: u8, time: u8) -> String {
        if Self::usual(notes) == Some(time) {
            format!("({notes}")
        } else {
            format!("({notes}:{time}")
        }
    }

    /// How long one of its notes is, where `share` is one share of the bar.
    pub fn length(self, share: Ticks) -> Option<Ticks> {
        if self == Self::NONE {
            return Some(share);
        }
        let length = (share * i64::from(self.time)).split(i64::from(self.notes))?;
        (length >= Self::SHORTEST).then_some(length)
    }
}

/// How many shares of the bar `tokens` take.
pub(super) fn count(tokens: &[MelodyToken]) -> usize {
    let mut left = tokens;
    let mut count: usize = 0;
    while let Some(first) = left.first() {
        count = count.saturating_add(usize::from(first.tuplet.time));
        left = left.get(usize::from(first.tuplet.notes)..).unwrap_or_default();
    }
    count
}

/// The length of each of `count` equal shares of a bar; `None` if it is no whole number of
/// sixteenths.
pub(super) fn melody_share(meter: BarMeter, count: usize) -> Option<Ticks> {
    let length = meter.bar().split(i64::try_from(count).ok()?)?;
    (length > Ticks::ZERO && length.is_multiple_of(SHORTEST)).then_some(length)
}

/// The sharps (positive) or flats of each letter in the key, C first; none in a key that could not be
/// read.
pub(super) fn signature(key: Option<Key>) -> [i32; 7] {
    let mut signature = [0; 7];
    for name in key.map(Key::scale).into_iter().flatten() {
        if let Some(place) = signature.get_mut(name.letter as usize) {
            *place = i32::from(name.accidental);
        }
    }
    signature
}

struct Reader<'a> {
    text: &'a Text,
    problems: &'a mut Problems,
    signature: [i32; 7],
    tokens: Vec<MelodyToken>,
    bars: Vec<Range<usize>>,
}

impl Reader<'_> {
    fn bar(&mut self, span: &Range<usize>, content: Range<usize>) -> Range<usize> {
        let first = self.tokens.len();
        let written = &self.text.value[content.clone()];
        if written == "%" {
            if let Some(before) = self.bars.last() {
                return before.clone();
            }
            let message = "`%` repeats the bar before it, and this is the row's first bar";
            self.problem(content, message, "write the notes of the bar out");
            return first..first;
        }
        if written.is_empty() {
            let help = "write `-` there for a rest, `/` to hold the note before, or `%`";
            self.problem(span.clone(), "a bar of this `melody` row is empty", help);
        }
        // Accidentals hold to the end of the bar.
        let mut letters = self.signature;
        let base = content.start;
        let mut tuplet = Tuplet::NONE;
        let mut open: Option<(Range<usize>, usize)> = None;
        for word in written.split_whitespace() {
            let start = base + (word.as_ptr() as usize - written.as_ptr() as usize);
            let at = start..start + word.len();
            if word.starts_with('(') {
                match Tuplet::read(word) {
                    Some(_) if open.is_some() => {
                        let help = "close the one before by as many notes as its number says";
                        self.problem(at, &format!("`{word}` stands within another"), help);
                    }
                    Some(read) => {
                        tuplet = read;
                        open = Some((at, usize::from(read.notes)));
                    }
                    None => {
                        let help = "write `(3` before three that share the time of two, or `(5:4` before \
                                    five in that of four";
                        self.problem(at, &format!("`{word}` opens no group of notes"), help);
                    }
                }
                continue;
            }
            let tune = self.token(word, &at, &mut letters);
            self.tokens.push(MelodyToken { tune, tuplet });
            if let Some((at, left)) = open.take() {
                match left.checked_sub(1) {
                    Some(left) if left > 0 => open = Some((at, left)),
                    _ => tuplet = Tuplet::NONE,
                }
            }
        }
        if let Some((at, left)) = open {
            let word = &self.text.value[at.clone()];
            let message = format!("`{word}` wants {left} more in this bar");
            self.problem(at, &message, "write as many notes, holds or rests as its number says");
        }
        first..self.tokens.len()
    }

    /// Reads one word. One that is wrong is still a share of the bar, so that their count is judged as
    /// written.
    fn token(&mut self, word: &str, at: &Range<usize>, letters: &mut [i32; 7]) -> Tune {
        match word {
            "-" => return Tune::Rest,
            "/" if self.tokens.is_empty() => {
                self.problem(
                    at.clone(),
                    "`/` holds the note before it, and the section has none before this",
                    "begin the section with a note, or with `-` for a rest",
                );
                return Tune::Rest;
            }
            "/" => return Tune::Hold,
            _ => {}
        }
        match read_note(word, letters) {
            Ok(note) => return Tune::Note(note),
            Err(Slip { range, message, help }) => {
                self.problem(at.start + range.start..at.start + range.end, &message, &help);
            }
        }
        Tune::Rest
    }

    fn check_split(&mut self, bar: Range<usize>, meter: BarMeter, span: &Range<usize>) {
        let tokens = self.tokens.get(bar).unwrap_or_default();
        let count = count(tokens);
        if count == 0 {
            return;
        }
        if let Some(share) = melody_share(meter, count) {
            if tokens.iter().any(|token| token.tuplet.length(share).is_none()) {
                let message = "a group of notes in this bar does not come out even";
                let help = "write groups of 2, 3, 4, 5, 6 or 8 notes, as in `(3 G A B`";
                self.problem(span.clone(), message, help);
            }
            return;
        }
        let most = meter.bar().get() / SHORTEST.get();
        let works: Vec<String> = (1..=usize::try_from(most).unwrap_or_default())
            .filter(|&n| melody_share(meter, n).is_some())
            .map(|n| n.to_string())
            .collect();
        let message = format!(
            "{count} notes, holds and rests don't share a bar of {meter} in whole sixteenth notes"
        );
        let help = format!("write {} in all, holding a note with `/`", list(&works, "or"));
        self.problem(span.clone(), &message, &help);
    }

    fn problem(&mut self, at: Range<usize>, message: &str, help: &str) {
        self.problems.add(self.text.span(at), message, help);
    }
}

/// What is wrong with a word, and where in it.
struct Slip {
    range: Range<usize>,
    message: String,
    help: String,
}

/// Reads a note: `G`, `^f`, `=c'`, `A,,`. `letters` holds what each letter is raised by at this place
/// of the bar.
fn read_note(word: &str, letters: &mut [i32; 7]) -> Result<MidiNote, Slip> {
    let whole = 0..word.len();
    let slip = |range, message: String, help: &str| Err(Slip { range, message, help: help.into() });
    let after = word.trim_start_matches(['^', '_', '=']);
    let marks = &word[..word.len() - after.len()];
    let raised = match marks {
        "" => None,
        "=" => Some(0),
        "^" => Some(1),
        "^^" => Some(2),
        "_" => Some(-1),
        "__" => Some(-2),
        _ => {
            let help = "write `^` for sharp, `^^` for double sharp, `_` for flat, `__` for double \
                        flat or `=` for natural before the letter";
            return slip(0..marks.len(), format!("`{marks}` is no accidental"), help);
        }
    };
    let mut rest = after.chars();
    let letter = rest.next().and_then(|c| Some((Letter::parse(c.to_ascii_uppercase())?, c)));
    let Some((letter, written)) = letter else {
        let (message, help) = unknown(word);
        return slip(whole, message, &help);
    };
    let mut octave = i32::from(written.is_ascii_lowercase());
    for (at, mark) in rest.as_str().char_indices() {
        match mark {
            '\'' => octave += 1,
            ',' => octave -= 1,
            _ => {
                let start = word.len() - rest.as_str().len() + at;
                let (message, help) = tail(&word[start..]);
                return slip(start..word.len(), message, &help);
            }
        }
    }
    let Some(place) = letters.get_mut(letter as usize) else {
        return slip(whole, format!("`{word}` is no note"), HELP);
    };
    *place = raised.unwrap_or(*place);
    // Middle C is 60 (MIDI 1.0), and so written `C`.
    let number = 60 + letter.semitones() + *place + 12 * octave;
    let note = u8::try_from(number).ok().and_then(MidiNote::new);
    note.map_or_else(
        || {
            let message = format!("`{word}` lies beyond every instrument");
            slip(whole.clone(), message, "write fewer of the marks `'` and `,`")
        },
        Ok,
    )
}

/// What a word that begins with no note is, and what to write instead.
fn unknown(word: &str) -> (String, String) {
    let message = format!("`{word}` is no note of a `melody` row");
    let help = if word.starts_with('%') {
        return (
            "`%` stands for a whole bar, so nothing can stand beside it".to_owned(),
            "write `%` alone, or write the bar out".to_owned(),
        );
    } else if word.starts_with(['z', 'x', 'Z', '.']) {
        "write `-` for a rest".to_owned()
    } else if word.starts_with(['-', '/']) {
        "put a space after each `-` and `/`".to_owned()
    } else {
        HELP.to_owned()
    };
    (message, help)
}

/// What follows a note, is not of it, and what to write instead.
fn tail(rest: &str) -> (String, String) {
    let next = rest.chars().next().unwrap_or(' ');
    if next == '#' || next == '♯' || next == '♭' {
        let mark = if next == '♭' { '_' } else { '^' };
        let message = format!("`{rest}` can't follow a note");
        return (message, format!("write `{mark}` before the letter, as in `{mark}F`"));
    }
    if next.is_ascii_digit() || next == '/' {
        let message = format!("`{rest}` says no length here");
        return (message, "hold a note with `/` for each share more: `G / /`".to_owned());
    }
    (
        format!("`{rest}` follows a note without a space"),
        "put a space between notes, as in `G A B`".to_owned(),
    )
}

#[cfg(test)]
mod tests {
    use super::super::testing::text;
    use super::*;
    use crate::time::Meter;

    fn notes(row: &str, key: &str) -> Vec<Option<u8>> {
        let text = text(row);
        let mut problems = Problems::new();
        let key = Key::parse(key).unwrap();
        let row = MelodyRow::read(&text, Some(key), None, &mut problems);
        assert!(problems.is_empty(), "{problems:?}");
        row.tokens
            .iter()
            .map(|token| match token.tune {
                Tune::Note(note) => Some(note.get()),
                Tune::Hold | Tune::Rest => None,
            })
            .collect()
    }

    fn message(row: &str) -> String {
        let text = text(row);
        let mut problems = Problems::new();
        MelodyRow::read(&text, Key::parse("G").ok(), None, &mut problems);
        problems
            .in_order()
            .iter()
            .map(|p| format!("{}: {}", p.message, p.help))
            .collect::<Vec<_>>()
            .join("; ")
    }

    #[test]
    fn pitches_are_abcs() {
        // The abc music standard 2.1, 4.1: C is middle C, c an octave up, c' two, C, one down.
        let all = notes("C, C c c' | B b", "C");
        assert_eq!(all, [48, 60, 72, 84, 71, 83].map(Some));
        // 4.2: accidentals; letters without are the key's own.
        assert_eq!(notes("^F =F _B ^^C __D", "C"), [66, 65, 70, 62, 60].map(Some));
        assert_eq!(notes("F f B", "G"), [66, 78, 71].map(Some));
        assert_eq!(notes("B E A", "Eb"), [70, 63, 68].map(Some));
        assert_eq!(notes("F C G", "A mixolydian"), [66, 61, 67].map(Some));
        // An accidental holds to the bar line, in every octave.
        assert_eq!(notes("=F F f | F", "G"), [65, 65, 77, 66].map(Some));
        assert_eq!(notes("G / - -", "G"), [Some(67), None, None, None]);
    }

    #[test]
    fn each_slip_says_what_to_write() {
        for (row, says) in [
            ("GA", "put a space between notes"),
            ("G2", "hold a note with `/`"),
            ("F#", "write `^` before the letter"),
            ("z", "write `-` for a rest"),
            ("H", "write notes with spaces between"),
            ("^_A", "`^_` is no accidental"),
            ("/ G", "begin the section with a note"),
            ("G % A", "write `%` alone"),
            ("C,,,,,,,,,", "fewer of the marks"),
        ] {
            assert!(message(row).contains(says), "{row}: {}", message(row));
        }
    }

    #[test]
    fn shares_are_whole_sixteenths() {
        let works = |meter: Meter| {
            (1..40).filter(|&n| melody_share(meter.into(), n).is_some()).collect::<Vec<_>>()
        };
        assert_eq!(works(Meter::FourFour), [1, 2, 4, 8, 16]);
        assert_eq!(works(Meter::TwoFour), [1, 2, 4, 8]);
        assert_eq!(works(Meter::SixEight), [1, 2, 3, 4, 6, 12]);
    }
}
