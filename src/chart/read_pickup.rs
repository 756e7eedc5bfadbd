use std::ops::Range;

use super::bar_head;
use super::bar_row::BarRow;
use super::melody_row::{MelodyRow, count};
use super::sign::{self, Mark};
use super::unroll::shared_tune;
use super::{Pickup, Share, Tune};
use crate::text::{Problems, Text, list};
use crate::theory::{Chord, Key};
use crate::time::{Meter, Ticks};

/// The word that makes a pickup of a length that is a meter too: `(pickup 2/4)`.
const WORD: &str = "pickup";

/// The shortest share of a tune, a sixteenth.
const SHORTEST: i64 = 240;

/// A pickup at the head of a row of chords.
pub(super) struct Head {
    length: Ticks,
    chord: Option<Chord>,
    /// The head as it is written, for messages.
    written: String,
}

/// Takes the pickup off a row of chords: `(1/4)`, or any count of quarters or eighths shorter than the song's bar, at
/// the head of the first bar. A length that is a meter too, as 2/4, is a bar cut short, unless it says so:
/// `(pickup 2/4)`. `None` if the row begins with a whole bar.
pub(super) fn of_chords(
    text: &Text,
    key: Option<Key>,
    meter: Meter,
    problems: &mut Problems,
) -> Option<(Head, Text)> {
    let cell = first_bar(text)?;
    let content = text.value.get(cell.clone())?;
    let close = content.strip_prefix('(')?.find(')')? + 1;
    let inside = content.get(1..close)?.trim();
    let (length, said) = match inside.strip_prefix(WORD) {
        Some(length) => (length.trim(), true),
        None => (inside, false),
    };
    // `(bar 1/4)` is one as well.
    if !said && (Meter::parse(length).is_some() || bar_head::after_word(inside).is_some()) {
        return None;
    }
    let head = cell.start..cell.start + close + 1;
    let length = match ticks(length).filter(|&length| length < meter.bar()) {
        Some(length) => length,
        None if said => {
            problems.add(
                text.span(head.clone()),
                format!("`{inside}` is no pickup to a bar of {meter}"),
                "write how long it is, in quarters or eighths and less than a bar: (pickup 2/4)",
            );
            Ticks::EIGHTH
        }
        // What is no shorter than a bar was meant for a meter.
        None => return None,
    };
    let rest = head.end..cell.end;
    let mut words = text.value.get(rest.clone())?.split_whitespace();
    let chord = words.next().and_then(|word| {
        let start =
            rest.start + (word.as_ptr() as usize - text.value[rest.clone()].as_ptr() as usize);
        chord(text, word, start, key, problems)
    });
    if words.next().is_some() {
        problems.add(
            text.span(rest),
            "a pickup has one chord at most",
            "write the chord that the tune comes from, as in `(1/4) D`, or N.C.",
        );
    }
    let written = text.value.get(head).unwrap_or_default().to_owned();
    Some((Head { length, chord, written }, without_first_bar(text, &cell)))
}

fn chord(
    text: &Text,
    word: &str,
    start: usize,
    key: Option<Key>,
    problems: &mut Problems,
) -> Option<Chord> {
    if matches!(word, "N.C." | "NC") {
        return None;
    }
    match Chord::read(word, key?) {
        Ok(chord) => Some(chord),
        Err(error) => {
            let bad = error.range();
            let span = text.span(start + bad.start..start + bad.end);
            problems.add(span, error.to_string(), error.help());
            None
        }
    }
}

/// `1/4`, `3/8`: quarters or eighths.
fn ticks(length: &str) -> Option<Ticks> {
    let (count, of) = length.split_once('/')?;
    let count: i64 = count.trim().parse().ok().filter(|count| (1..=16).contains(count))?;
    let unit = match of.trim() {
        "4" => Ticks::QUARTER,
        "8" => Ticks::EIGHTH,
        _ => return None,
    };
    Some(unit * count)
}

/// Where the first bar of a row stands, if more come after it.
fn first_bar(text: &Text) -> Option<Range<usize>> {
    // Problems are told when the row is read.
    let row = BarRow::read(text, 2, &mut Problems::new());
    match row.cells.as_slice() {
        [first, _, ..] if !first.empty => Some(first.span.clone()),
        _ => None,
    }
}

/// The row without its first bar, every byte that is left where it was. The sign between the two goes with it, but for
/// one that opens a repeat, which takes the place of the sign before.
fn without_first_bar(text: &Text, cell: &Range<usize>) -> Text {
    let after = sign::find(&text.value, cell.end..text.value.len());
    let opens = after.as_ref().and_then(|span| sign::marks(&text.value, span));
    let opens = opens.is_some_and(|marks| marks.contains(&Mark::Open));
    let gone = match after {
        Some(sign) if !opens => cell.start..sign.end,
        _ => 0..cell.end,
    };
    let blank = " ".repeat(gone.len());
    let (before, rest) = (text.value.get(..gone.start), text.value.get(gone.end..));
    let value = [before.unwrap_or_default(), &blank, rest.unwrap_or_default()].concat();
    let mut without = text.clone();
    without.value = value;
    without
}

/// A row that runs along the chords: its first bar, which belongs to the pickup, and the rest.
pub(super) struct Along {
    cell: Option<Range<usize>>,
    pub rest: Text,
}

impl Along {
    /// Takes the first bar off.
    pub fn of(text: &Text) -> Self {
        match first_bar(text) {
            Some(cell) => Self { rest: without_first_bar(text, &cell), cell: Some(cell) },
            None => Self { cell: None, rest: text.clone() },
        }
    }
}

impl Head {
    /// The pickup, with what the rows of singing and of the tune have in their first bars. Without a row for it, a
    /// singer who leads sings it.
    pub fn finish(
        self,
        voice: Option<(&Text, &Along)>,
        melody: Option<(&Text, &Along)>,
        key: Option<Key>,
        problems: &mut Problems,
    ) -> Pickup {
        let sings = voice.is_none_or(|(text, along)| self.sings(text, along, problems));
        let melody =
            melody.map_or_else(Vec::new, |(text, along)| self.melody(text, along, key, problems));
        Pickup { length: self.length, chord: self.chord, sings, melody }
    }

    /// The first bar of a row along the chords, without the pickup's length if the row says it once more.
    fn without_head(
        &self,
        text: &Text,
        along: &Along,
        problems: &mut Problems,
    ) -> Option<Range<usize>> {
        let cell = along.cell.clone()?;
        let content = text.value.get(cell.clone())?;
        let said = content.strip_prefix('(').and_then(|inside| inside.split_once(')'));
        // Three in the time of two are opened by a parenthesis too, which nothing closes.
        let Some((said, _)) = said else { return Some(cell) };
        let end = cell.start + said.len() + 2;
        let length = ticks(said.strip_prefix(WORD).unwrap_or(said).trim());
        if length != Some(self.length) {
            problems.add(
                text.span(cell.start..end),
                "the chords begin with another pickup",
                format!("write `{}` here too, or leave it out: the chords say it", self.written),
            );
        }
        Some(end..cell.end)
    }

    fn sings(&self, text: &Text, along: &Along, problems: &mut Problems) -> bool {
        let Some(cell) = self.without_head(text, along, problems) else { return true };
        let marks = text.value.get(cell.clone()).unwrap_or_default();
        if let Some(at) = marks.find(|c: char| !c.is_whitespace() && !['=', '-'].contains(&c)) {
            problems.add(
                text.span(cell.start + at..cell.end),
                "the first bar of this row is the pickup's",
                format!("write `=` where the singer sings in the {}, or `-`", self.written),
            );
        }
        marks.contains('=')
    }

    fn melody(
        &self,
        text: &Text,
        along: &Along,
        key: Option<Key>,
        problems: &mut Problems,
    ) -> Vec<Share<Tune>> {
        let Some(cell) = self.without_head(text, along, problems) else { return Vec::new() };
        // Only the pickup is left of the row.
        let mut own = text.clone();
        let blank = |range: Range<usize>| " ".repeat(range.len());
        let within = text.value.get(cell.clone()).unwrap_or_default();
        own.value = [&blank(0..cell.start), within, &blank(cell.end..text.value.len())].concat();
        let row = MelodyRow::read(&own, key, None, problems);
        let tokens = row.bar(0);
        let sixteenths = self.length.get() / SHORTEST;
        let count = i64::try_from(count(tokens)).unwrap_or(i64::MAX);
        let share = Ticks::new(self.length.get() / count.max(1));
        let even = tokens.iter().all(|token| token.tuplet.length(share).is_some());
        if count == 0 || sixteenths % count != 0 || !even {
            let works: Vec<String> =
                (1..=sixteenths).filter(|n| sixteenths % n == 0).map(|n| n.to_string()).collect();
            problems.add(
                text.span(cell),
                format!(
                    "{count} notes, holds and rests don't share a pickup of {} in whole sixteenth \
                     notes",
                    self.written
                ),
                format!("write {} in all, holding a note with `/`", list(&works, "or")),
            );
            return Vec::new();
        }
        shared_tune(share, tokens)
    }
}
