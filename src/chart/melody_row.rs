use std::ops::Range;

use super::Tune;
use super::bar_row::BarRow;
use super::chord_row::ChordRow;
use super::limits::MOST_BARS;
use super::mark_row::same_length;
use crate::text::{Problems, Text, list};
use crate::theory::{Key, Letter, MidiNote};
use crate::time::{Meter, Ticks};

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
/// accidental holds for its letter to the end of the bar, in every octave.
#[derive(Debug)]
pub(super) struct MelodyRow {
    tokens: Vec<Tune>,
    bars: Vec<Range<usize>>,
}

impl MelodyRow {
    /// What stands in a bar as written.
    pub fn bar(&self, written: usize) -> &[Tune] {
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
                reader.check_split(bar.len(), meter, &cell.span);
            }
            reader.bars.push(bar);
        }
        Self { tokens: reader.tokens, bars: reader.bars }
    }
}

/// The length of each of `count` equal shares of a bar; `None` if it is no whole number of
/// sixteenths.
pub(super) fn melody_share(meter: Meter, count: usize) -> Option<Ticks> {
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
    tokens: Vec<Tune>,
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
        for word in written.split_whitespace() {
            let start = base + (word.as_ptr() as usize - written.as_ptr() as usize);
            let at = start..start + word.len();
            let token = self.token(word, &at, &mut letters);
            self.tokens.push(token);
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

    fn check_split(&mut self, count: usize, meter: Meter, span: &Range<usize>) {
        if count == 0 || melody_share(meter, count).is_some() {
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

    fn notes(row: &str, key: &str) -> Vec<Option<u8>> {
        let text = text(row);
        let mut problems = Problems::new();
        let key = Key::parse(key).unwrap();
        let row = MelodyRow::read(&text, Some(key), None, &mut problems);
        assert!(problems.is_empty(), "{problems:?}");
        row.tokens
            .iter()
            .map(|token| match token {
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
        let works =
            |meter| (1..40).filter(|&n| melody_share(meter, n).is_some()).collect::<Vec<_>>();
        assert_eq!(works(Meter::FourFour), [1, 2, 4, 8, 16]);
        assert_eq!(works(Meter::TwoFour), [1, 2, 4, 8]);
        assert_eq!(works(Meter::SixEight), [1, 2, 3, 4, 6, 12]);
    }
}
