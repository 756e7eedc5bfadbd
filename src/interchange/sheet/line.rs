//! Bars of a line of chords.

use super::words::{times, words};
use crate::interchange::chord_word::chord_word;
use crate::interchange::tune::{Measure, Sounding, TimeSignature, What};
use crate::interchange::{Remarks, one_line};
use crate::theory::Chord;

/// What a line of chords is read with.
pub(super) struct Line<'a> {
    pub time: TimeSignature,
    /// Where the line begins in the file.
    pub base: usize,
    /// How many bars each chord lasts where there are no bar lines.
    pub bars_per_chord: Option<u32>,
    pub remarks: &'a mut Remarks,
    /// How many bars there are before it.
    pub before: usize,
}

/// Why a line can't be read: where, and what to do.
pub(super) type Wrong = (usize, String);

/// A bar before its chords have their lengths.
type Cell = Vec<Token>;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Token {
    Chord(Option<Chord>),
    Hold,
}

impl Line<'_> {
    fn bar(&self, at: usize) -> Measure {
        Measure::new(at, self.time)
    }

    /// The bars of a line with bar lines.
    pub(super) fn barred(
        &mut self,
        text: &str,
        last: Option<&Measure>,
    ) -> Result<Vec<Measure>, Wrong> {
        let mut out: Vec<Measure> = Vec::new();
        let mut now: Cell = Vec::new();
        let mut opens = false;
        let mut again = 1;
        let spaced = text.replace('|', " | ").replace("|  |", "||");
        // A stroke set apart moves what follows it; places are told by the word itself.
        let mut from = 0;
        for (_, word) in words(&spaced) {
            let here = text
                .get(from..)
                .and_then(|rest| rest.find(word))
                .map_or(from, |found| from + found);
            from = here + word.len();
            let at = self.base + here;
            match word {
                "|" | "||" => self.close(&mut now, &mut out, &mut opens, at)?,
                ":" if now.is_empty() => {
                    // Behind a bar line it opens a repeat, before one it closes it.
                    let ends =
                        text.get(from..).is_some_and(|rest| rest.trim_start().starts_with('|'));
                    if ends && let Some(last) = out.last_mut() {
                        last.closes = 1;
                    } else {
                        opens = true;
                    }
                }
                ":" => {
                    self.close(&mut now, &mut out, &mut opens, at)?;
                    if let Some(last) = out.last_mut() {
                        last.closes = 1;
                    }
                }
                "%" | "𝄎" => {
                    let Some(before) = out.last().or(last) else {
                        return Err((
                            at,
                            "`%` repeats the bar before it, and there is none".to_owned(),
                        ));
                    };
                    let mut bar = self.bar(at);
                    bar.notes.clone_from(&before.notes);
                    bar.chords.clone_from(&before.chords);
                    bar.opens = std::mem::take(&mut opens);
                    out.push(bar);
                }
                "/" | "-" | "." | "–" => now.push(Token::Hold),
                _ => match times(word) {
                    Some(times) => again = times,
                    None => now.push(self.chord(word, at)?),
                },
            }
        }
        let end = self.base + text.len();
        self.close(&mut now, &mut out, &mut opens, end)?;
        self.played(out, again)
    }

    /// The bars of a line without bar lines: each chord as long as was said.
    pub(super) fn bare(&mut self, text: &str) -> Result<Vec<Measure>, Wrong> {
        let Some(count) = self.bars_per_chord else {
            let help = "how long each chord lasts can't be known without bar lines; say --bars-per-chord 1, or 2, or \
                        put `|` between bars";
            return Err((self.base, help.to_owned()));
        };
        let mut out: Vec<Measure> = Vec::new();
        let mut again = 1;
        for (place, word) in words(text) {
            let at = self.base + place.start;
            let token = match word {
                "/" | "-" | "." | "–" | "%" => Token::Hold,
                _ => match times(word) {
                    Some(times) => {
                        again = times;
                        continue;
                    }
                    None => self.chord(word, at)?,
                },
            };
            for index in 0..count {
                let token = if index == 0 { token } else { Token::Hold };
                let mut now = vec![token];
                self.close(&mut now, &mut out, &mut false, at)?;
            }
        }
        self.played(out, again)
    }

    fn played(&self, mut bars: Vec<Measure>, times: u32) -> Result<Vec<Measure>, Wrong> {
        let once = bars.clone();
        for _ in 1..times {
            if let Some(last) = bars.last_mut() {
                last.line_end = true;
            }
            bars.extend(once.iter().cloned());
        }
        if let Some(last) = bars.last_mut() {
            last.line_end = true;
        }
        Ok(bars)
    }

    fn chord(&mut self, word: &str, at: usize) -> Result<Token, Wrong> {
        let Some(read) = chord_word(word) else {
            return Err((at, format!("`{}` is no chord", one_line(word))));
        };
        if let Some(said) = read.said {
            let number = u32::try_from(self.before + 1).ok();
            self.remarks.add(said, at, number);
        }
        Ok(Token::Chord(read.chord))
    }

    /// The bar that was being read is done, if anything stands in it: what stands there shares it equally.
    fn close(
        &self,
        now: &mut Cell,
        out: &mut Vec<Measure>,
        opens: &mut bool,
        at: usize,
    ) -> Result<(), Wrong> {
        let cell = std::mem::take(now);
        if cell.is_empty() {
            return Ok(());
        }
        let length = self.time.length();
        let count = i64::try_from(cell.len()).unwrap_or(i64::MAX);
        let eighths = length / crate::interchange::units::EIGHTH;
        if eighths % count != 0 {
            let words = format!(
                "{count} chords and holds don't share a bar of {}/{} in whole eighths",
                self.time.beats, self.time.unit
            );
            return Err((at, words));
        }
        let mut bar = self.bar(at);
        bar.notes = vec![Sounding { length, what: What::Blank }];
        bar.opens = std::mem::take(opens);
        let share = length / count;
        for (place, token) in (0..).zip(&cell) {
            if let Token::Chord(chord) = token {
                bar.chords.push((place * share, *chord));
            }
        }
        out.push(bar);
        Ok(())
    }
}
