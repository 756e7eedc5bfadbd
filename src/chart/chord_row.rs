use std::ops::Range;

use super::bar_head;
use super::bar_row::{BarRow, Cell};
use super::repeat::plays;
use super::sign::{Mark, Sign};
use super::split::{Subject, check_split, share_length};
use crate::text::{Problems, Text};
use crate::theory::{Chord, Key};
use crate::time::{BarMeter, Meter};

/// The `chords` row of a section.
#[derive(Debug)]
pub(super) struct ChordRow {
    /// The bars as written.
    pub bars: Vec<WrittenBar>,
    /// What stands in them.
    pub tokens: Vec<Token>,
    /// The stretches of `bars` in the order played.
    pub plays: Vec<Range<usize>>,
    /// How many bars each line of text holds.
    pub lines: Vec<usize>,
    /// True if bar lines were forgotten somewhere; that is told, and the bars are not what was meant.
    pub unbarred: bool,
    /// True if there were more bars than asked for; the rest was not read.
    pub too_long: bool,
}

/// A bar of chords as written.
#[derive(Debug)]
pub(super) struct WrittenBar {
    /// Its meter, if the song's could be read.
    pub meter: Option<BarMeter>,
    /// Its tokens in [`ChordRow::tokens`]; those of the bar it repeats for a `%`.
    pub tokens: Range<usize>,
    /// True for a `%`.
    pub again: bool,
    /// True for the last bar of its line.
    pub ends_line: bool,
}

/// One word of a bar of chords; the words of a bar share it equally.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Token {
    /// `/`: the chord before it goes on.
    Hold,
    /// A chord, or `None` for N.C.
    Chord(Option<Chord>),
}

impl ChordRow {
    /// Reads a row, no more than `most` bars of it. A `key` that could not be read is `None`: the
    /// chords are checked all the same.
    pub fn read(
        text: &Text,
        key: Option<Key>,
        meter: Option<Meter>,
        most: usize,
        problems: &mut Problems,
    ) -> Self {
        let row = BarRow::read(text, most, problems);
        // A row that was cut off would seem to have repeats that never end.
        let plays = if row.too_long { Vec::new() } else { plays(&row, text, problems) };
        let mut reader = Reader {
            text,
            key,
            meter,
            problems,
            // Elsewhere in the row a line holds more than one bar.
            barred: row.lines.iter().any(|(bars, _)| *bars > 1),
            unbarred: false,
            bars: Vec::new(),
            tokens: Vec::new(),
        };
        let mut signs = row.signs.as_slice();
        for (at, cell) in row.cells.iter().enumerate() {
            let here = signs.iter().take_while(|sign| sign.at <= at).count();
            let (before, after) = signs.split_at(here);
            signs = after;
            reader.bar(cell, before, row.is_bare(at));
        }
        let Reader { bars, tokens, unbarred, .. } = reader;
        let lines = row.lines.iter().map(|line| line.0).collect();
        Self { bars, tokens, plays, lines, unbarred, too_long: row.too_long }
    }

    /// How many bars are played.
    pub fn length(&self) -> usize {
        self.plays.iter().map(Range::len).fold(0, usize::saturating_add)
    }
}

struct Reader<'a> {
    text: &'a Text,
    key: Option<Key>,
    meter: Option<Meter>,
    problems: &'a mut Problems,
    barred: bool,
    unbarred: bool,
    bars: Vec<WrittenBar>,
    tokens: Vec<Token>,
}

impl Reader<'_> {
    /// Reads one bar; `signs` stand right before it. `bare` is one alone in a line without bar signs.
    fn bar(&mut self, cell: &Cell, signs: &[Sign], bare: bool) {
        let ending = signs.iter().any(|sign| matches!(sign.mark, Mark::Ending(_)));
        let mut meter = self.meter.map(BarMeter::from);
        let mut body = cell.span.clone();
        if cell.empty {
            // An ending without a bar is named with the endings.
            if !ending {
                self.problem(
                    body.clone(),
                    "this bar is empty",
                    "write its chord, `%` for the bar before again, or N.C. for silence",
                );
            }
            body = body.end..body.end;
        } else if self.text.value[body.clone()].starts_with('(') {
            (meter, body) = self.head(body);
        }
        let words: Vec<Range<usize>> = words(&self.text.value, body.clone()).collect();
        let again = words.iter().any(|word| self.text.value[word.clone()].starts_with('%'));
        let tokens = if again { self.again(&words, signs) } else { self.words(&words) };
        if let (Some(meter), Some(first), Some(last)) = (meter, words.first(), words.last()) {
            let held = self.tokens.get(tokens.clone()).is_some_and(|t| t.contains(&Token::Hold));
            let subject = match (again, held) {
                (true, _) => Subject::Again,
                (false, true) => Subject::ChordsAndSlashes,
                (false, false) => Subject::Chords,
            };
            let even = share_length(meter, tokens.len()).is_some();
            if bare && self.forgot_bar_lines(&words, held, even) {
                self.unbarred = true;
                self.bar_lines_missing(&words, held);
            } else {
                let span = self.text.span(first.start..last.end);
                check_split(subject, tokens.len(), meter, span, self.problems);
            }
        }
        self.bars.push(WrittenBar { meter, tokens, again, ends_line: cell.ends_line });
    }

    /// Whether a line of several words without a bar sign was most likely meant for several bars: as
    /// other lines of the row are, or because its chords don't share one bar, or are many and none is
    /// held.
    fn forgot_bar_lines(&self, words: &[Range<usize>], held: bool, even: bool) -> bool {
        /// Two chords are often one bar.
        const MANY: usize = 3;
        let chords = words.iter().filter(|word| &self.text.value[(*word).clone()] != "/").count();
        chords > 1 && (self.barred || !even || !held && chords >= MANY)
    }

    fn bar_lines_missing(&mut self, words: &[Range<usize>], held: bool) {
        /// More bars than a line of a chart has.
        const MOST_SHOWN: usize = 8;
        let (Some(first), Some(last)) = (words.first(), words.last()) else { return };
        let help = if held || words.len() > MOST_SHOWN {
            "put `|` before and after each bar, as in `| G | C / / D |`; for one bar put it at both \
             ends"
                .to_owned()
        } else {
            let each: Vec<&str> = words.iter().map(|w| &self.text.value[w.clone()]).collect();
            let (bars, bar) = (each.join(" | "), each.join(" "));
            format!("write `| {bars} |` for a bar each, or `| {bar} |` for one bar")
        };
        self.problem(first.start..last.end, "this line has no bar lines", help);
    }

    /// Reads the `(2/4)` or `(bar 1/4)` at the head of a bar; gives the bar's meter and the rest of the bar.
    fn head(&mut self, bar: Range<usize>) -> (Option<BarMeter>, Range<usize>) {
        let content = &self.text.value[bar.clone()];
        let Some(close) = content.find(')') else {
            let word = content.split_whitespace().next().unwrap_or(content);
            let end = bar.start + word.len();
            if holds_a_number(word) {
                let help = format!("write `{word})`, with the bracket closed");
                let message = "the meter at the head of this bar is not closed";
                self.problem(bar.start..end, message, help);
            } else {
                self.bracket(bar.start..end);
            }
            return (None, end..bar.end);
        };
        let inside = content[1..close].trim();
        let meter = bar_head::meter(inside);
        let head = bar.start..bar.start + close + 1;
        if meter.is_none() && !holds_a_number(content) {
            self.bracket(head.clone());
        } else if meter.is_none() {
            self.problem(
                head.clone(),
                format!("`{}` is no meter that a bar has", &content[..=close]),
                bar_head::instead(inside, self.meter),
            );
        } else if content[close + 1..].trim().is_empty() {
            self.problem(
                head.clone(),
                "this bar has a meter and nothing in it",
                format!("write its chord after the meter, as in `({inside}) G`"),
            );
        }
        (meter, head.end..bar.end)
    }

    /// A bar with a `%` in it: the tokens of the bar before.
    fn again(&mut self, words: &[Range<usize>], signs: &[Sign]) -> Range<usize> {
        let none = self.tokens.len()..self.tokens.len();
        for word in words {
            let written = &self.text.value[word.clone()];
            if written.starts_with('%') && written != "%" {
                let message = format!("`{written}` is no sign of a chart");
                let help = "write `%` alone in each bar that is the bar before again";
                self.problem(word.clone(), message, help);
                return none;
            }
        }
        let ([word], Some(before)) = (words, self.bars.last()) else {
            let (Some(first), Some(last)) = (words.first(), words.last()) else { return none };
            let span = first.start..last.end;
            if words.len() > 1 {
                self.problem(
                    span,
                    "`%` stands for a whole bar, so nothing can stand beside it",
                    "write `%` alone, or write the chords of the bar out",
                );
            } else {
                self.problem(
                    span,
                    "`%` repeats the bar before it, and this is the section's first bar",
                    "write the chords of the bar out",
                );
            }
            return none;
        };
        let before = before.tokens.clone();
        // After a jump the bar before on the page is not the bar before in time.
        let jump = signs.iter().find_map(|sign| match sign.mark {
            Mark::Open => Some("a repeat"),
            Mark::Ending(number) if number > 1 => Some("an ending"),
            _ => None,
        });
        if let Some(jump) = jump {
            self.problem(
                word.clone(),
                format!("`%` at the head of {jump} does not say which bar it repeats"),
                "write the chords of the bar out",
            );
            return none;
        }
        before
    }

    fn words(&mut self, words: &[Range<usize>]) -> Range<usize> {
        let first = self.tokens.len();
        for (at, word) in words.iter().enumerate() {
            let written = &self.text.value[word.clone()];
            let token = match written {
                "/" if at == 0 && self.bars.is_empty() => {
                    self.problem(
                        word.clone(),
                        "`/` holds the chord before it, and the section has none before this",
                        "begin the section with a chord",
                    );
                    Token::Chord(None)
                }
                "/" => Token::Hold,
                "N.C." | "NC" => Token::Chord(None),
                _ => Token::Chord(self.chord(word)),
            };
            self.tokens.push(token);
        }
        first..self.tokens.len()
    }

    fn chord(&mut self, word: &Range<usize>) -> Option<Chord> {
        let written = &self.text.value[word.clone()];
        let key = self.key.unwrap_or(FALLBACK);
        match Chord::read(written, key) {
            Ok(chord) => Some(chord),
            Err(error) => {
                if let Some(meter) = bracketed_meter(written) {
                    let help = format!("move `({meter})` to right after the bar line");
                    self.problem(
                        word.clone(),
                        "a meter stands at the head of its bar, before the chords",
                        help,
                    );
                } else if written.starts_with('(') && !holds_a_number(written) {
                    self.bracket(word.clone());
                } else if written.replace('.', "").eq_ignore_ascii_case("nc") {
                    let message = format!("`{written}` is no sign of a chart");
                    self.problem(word.clone(), message, "did you mean `N.C.`?");
                } else {
                    let bad = error.range();
                    let span = word.start + bad.start..word.start + bad.end;
                    self.problem(span, error.to_string(), error.help());
                }
                None
            }
        }
    }

    /// Reports a bracket that holds no meter.
    fn bracket(&mut self, at: Range<usize>) {
        self.problem(
            at,
            "brackets in a chart hold the meter of a bar, as in (2/4)",
            "write a meter between them at the head of the bar, or leave the bracket out",
        );
    }

    fn problem(&mut self, at: Range<usize>, message: impl Into<String>, help: impl Into<String>) {
        self.problems.add(self.text.span(at), message, help);
    }
}

/// In which numbers are checked when the song's own key could not be read.
const FALLBACK: Key = Key {
    tonic: crate::theory::PitchName::new(crate::theory::Letter::C, 0),
    mode: crate::theory::Mode::Major,
};

/// True if what follows the bracket is, or was meant for, a meter.
fn holds_a_number(bracket: &str) -> bool {
    bracket.trim_start_matches(['(', ' ']).starts_with(|c: char| c.is_ascii_digit())
}

fn bracketed_meter(word: &str) -> Option<BarMeter> {
    bar_head::meter(word.strip_prefix('(')?.strip_suffix(')')?)
}

/// Where the words of `range` stand.
fn words(text: &str, range: Range<usize>) -> impl Iterator<Item = Range<usize>> {
    let part = &text[range.clone()];
    let base = part.as_ptr() as usize;
    part.split_whitespace().map(move |word| {
        let start = range.start + (word.as_ptr() as usize - base);
        start..start + word.len()
    })
}
