//! How far the notes of the bar have been read: those that are struck next.

use super::coming::Coming;
use super::position::{Position, Segment};
use super::{Scores, score};
use crate::live::Score;
use crate::live::score::{ScoreBar, ScoreNote};

/// Where a note is read, in the order in which they are struck at one instant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Row {
    /// Early notes whose time had passed before it was known that their bar comes: at its bar line.
    Missed,
    /// The notes of the bar before that begin after its end.
    Tail,
    /// The bar's notes, or the count-in's clicks.
    Note,
    /// The early notes of the bar that comes.
    Early,
    /// The clicks before chord changes.
    ChangeClick,
}

impl Row {
    /// All but [`Self::Missed`], which is read at the bar line alone.
    pub const ON_TIME: [Self; 4] = [Self::Tail, Self::Note, Self::Early, Self::ChangeClick];
}

/// The notes of a bar that is left, which begin after its end.
#[derive(Clone, Copy, Debug)]
struct Tail {
    next: usize,
    to: usize,
    head: i64,
    visit: u32,
}

/// See the module. Each counts from the first of its bar.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Reading {
    /// The next of the bar's notes, or of the count-in's clicks.
    next: usize,
    /// The next of its change clicks.
    click: usize,
    /// The next of the places where it slows down.
    slow: usize,
    /// The next of those missed, and how many there are.
    missed: (usize, usize),
    tail: Option<Tail>,
    /// The next early note of the bar that comes, and where those begin that were not missed.
    early: usize,
    early_from: usize,
}

impl Reading {
    /// The next note of a row, and where it begins on the timeline.
    pub fn note(
        &self,
        row: Row,
        scores: &Scores,
        here: &Position,
        coming: &Coming,
    ) -> Option<(i64, ScoreNote)> {
        let score = here.score(scores)?;
        let bar = || score.bars.get(here.bar);
        match row {
            Row::Tail => {
                let tail = self.tail.filter(|tail| tail.next < tail.to)?;
                let note = score.notes.get(tail.next)?;
                Some((tail.head + note.at, *note))
            }
            Row::Missed => {
                let note = score.notes.get(bar()?.from + self.missed.0)?;
                self.has_missed().then_some((here.head, *note))
            }
            Row::Note => match here.segment {
                Segment::Bar => {
                    let bar = bar()?;
                    let note = score.notes.get(bar.from + self.next)?;
                    (bar.from + self.next < bar.to).then_some((here.head + note.at, *note))
                }
                Segment::CountIn { bars, .. } => self.click(score, here.head, bars),
                Segment::Paused | Segment::Over | Segment::Ended => None,
            },
            Row::Early => self.early(scores, here, coming),
            Row::ChangeClick => {
                let bar = bar().filter(|_| here.segment == Segment::Bar)?;
                let note = score.change_clicks.get(bar.clicks_from + self.click)?;
                (bar.clicks_from + self.click < bar.clicks_to)
                    .then_some((here.head + note.at, *note))
            }
        }
    }

    fn click(&self, score: &Score, head: i64, bars: u32) -> Option<(i64, ScoreNote)> {
        let each = score.clicks.len().max(1);
        let click = score.clicks.get(self.next % each)?;
        let bar = (self.next / each) as i64;
        let at = head + bar * score.click_bar + click.at;
        (bar < i64::from(bars)).then_some((at, *click))
    }

    fn early(&self, scores: &Scores, here: &Position, coming: &Coming) -> Option<(i64, ScoreNote)> {
        let score = score(scores, coming.slot)?;
        let bar = score.bars.get(coming.bar?)?;
        // Before a count-in nothing of the bar after it sounds.
        if self.early >= bar.early || coming.count_in > 0 {
            return None;
        }
        let note = score.notes.get(bar.from + self.early)?;
        Some((here.line(scores)? + note.at, *note))
    }

    /// True if early notes are to be struck at the bar line.
    pub const fn has_missed(&self) -> bool {
        self.missed.0 < self.missed.1
    }

    /// The note of a row is gone by. Gives the visit of a bar that it belongs to, the present one being `visit`.
    pub const fn go_by(&mut self, row: Row, visit: u32) -> u32 {
        match row {
            Row::Missed => self.missed.0 += 1,
            Row::Note => self.next += 1,
            Row::ChangeClick => self.click += 1,
            Row::Early => {
                self.early += 1;
                return visit + 1;
            }
            Row::Tail => {
                if let Some(tail) = &mut self.tail {
                    tail.next += 1;
                    return tail.visit;
                }
            }
        }
        visit
    }

    /// The next place where the bar slows down, and how far.
    pub fn next_slow(&self, scores: &Scores, here: &Position) -> Option<(i64, u32)> {
        let score = here.score(scores)?;
        let bar = score.bars.get(here.bar).filter(|_| here.segment == Segment::Bar)?;
        let slow = score.slow.get(bar.slow_from..bar.slow_to)?;
        slow.get(self.slow).map(|&(at, permille)| (here.head.saturating_add(at), permille))
    }

    /// That place is gone by.
    pub const fn slowed(&mut self) {
        self.slow += 1;
    }

    /// Another bar comes: the time of so many of its early notes has passed.
    pub const fn foresee(&mut self, missed: usize) {
        (self.early, self.early_from) = (missed, missed);
    }

    /// The bar at `here` is left, and what is left of it, if it is played on, begins after its end.
    pub fn leave(&mut self, here: &Position, played_on: Option<&ScoreBar>) {
        self.tail = played_on.map(|bar| Tail {
            next: bar.from + self.next,
            to: bar.to,
            head: here.head,
            visit: here.visit,
        });
    }

    /// Clicks begin.
    pub const fn click_in(&mut self) {
        self.next = 0;
    }

    /// The bar that came begins.
    pub const fn enter(&mut self) {
        self.next = self.early;
        self.click = 0;
        self.slow = 0;
        self.missed = (0, self.early_from);
    }

    /// Goes on so far into a bar, in ticks, with nothing of what came before.
    pub fn seek(&mut self, score: &Score, bar: &ScoreBar, into: i64) {
        let notes = score.notes.iter().skip(bar.from).take(bar.to - bar.from);
        let clicks =
            score.change_clicks.iter().skip(bar.clicks_from).take(bar.clicks_to - bar.clicks_from);
        // At its beginning the early ones are struck too.
        let next = if into == 0 { 0 } else { notes.take_while(|note| note.at < into).count() };
        let click = clicks.take_while(|click| click.at < into).count();
        *self = Self { next, click, ..Self::default() };
    }

    /// Nothing sounds any more: what was left of bars before is not struck.
    pub const fn pause(&mut self) {
        self.tail = None;
        self.missed = (0, 0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::testing::{arrangement, performance};

    fn scores() -> Scores {
        let song = arrangement("| G | C / D / | D | G |", "");
        let mut scores: Scores = Default::default();
        scores[0] = Some(Box::new(Score::new(0, &song, &performance(&song))));
        scores
    }

    fn playing(bar: usize) -> Position {
        Position { bar, head: 10_000, segment: Segment::Bar, ..Position::new(0) }
    }

    /// All that a row still has.
    fn rest(mut reading: Reading, row: Row, scores: &Scores, here: &Position) -> Vec<i64> {
        let next = || {
            let (at, _) = reading.note(row, scores, here, &Coming::NONE)?;
            assert_eq!(reading.go_by(row, 5), 5);
            Some(at - here.head)
        };
        std::iter::from_fn(next).collect()
    }

    #[test]
    fn a_bar_is_read_note_by_note() {
        let scores = scores();
        let score = score(&scores, 0).unwrap();
        let bar = &score.bars[1];
        let notes: Vec<i64> = score.notes[bar.from..bar.to].iter().map(|note| note.at).collect();
        let here = playing(1);
        assert_eq!(rest(Reading::default(), Row::Note, &scores, &here), notes);
        assert_eq!(rest(Reading::default(), Row::ChangeClick, &scores, &here), [960, 1440]);
        let mut reading = Reading::default();
        reading.seek(score, bar, 1920);
        let after = rest(reading, Row::Note, &scores, &here);
        assert!(!after.is_empty() && after.iter().all(|&at| at >= 1920));
        assert!(notes.ends_with(&after));
        assert_eq!(rest(reading, Row::ChangeClick, &scores, &here), [0; 0]);
    }

    #[test]
    fn clicks_are_counted_in_bars() {
        let scores = scores();
        let segment = Segment::CountIn { bars: 2, length: 7680 };
        let here = Position { segment, ..playing(0) };
        let clicks = rest(Reading::default(), Row::Note, &scores, &here);
        assert_eq!(clicks, [0, 960, 1920, 2880, 3840, 4800, 5760, 6720]);
        let at_once = Position { segment: Segment::CountIn { bars: 0, length: 9 }, ..here };
        assert!(rest(Reading::default(), Row::Note, &scores, &at_once).is_empty());
    }

    #[test]
    fn what_begins_after_its_bar_is_of_that_bar() {
        let scores = scores();
        let mut reading = Reading::default();
        let here = Position { visit: 3, ..playing(0) };
        let bar = here.bar_in(&scores).unwrap();
        reading.leave(&here, Some(bar));
        assert!(reading.note(Row::Tail, &scores, &playing(1), &Coming::NONE).is_some());
        assert_eq!(reading.go_by(Row::Tail, 4), 3);
        reading.leave(&here, None);
        assert!(reading.note(Row::Tail, &scores, &playing(1), &Coming::NONE).is_none());
    }

    #[test]
    fn early_notes_that_were_missed_come_at_the_line() {
        let mut reading = Reading::default();
        reading.foresee(2);
        assert_eq!(reading.go_by(Row::Early, 7), 8, "of the bar that comes");
        reading.enter();
        assert!(reading.has_missed());
        reading.go_by(Row::Missed, 8);
        reading.go_by(Row::Missed, 8);
        assert!(!reading.has_missed());
        reading.enter();
        reading.pause();
        assert!(!reading.has_missed());
    }
}
