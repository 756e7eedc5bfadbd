//! The tempo that was asked for, and how far an ending slows it down.

use super::{Cursor, Scores, Segment, score};
use crate::time::Tempo;

/// A quarter's time at full tempo, in thousandths.
const FULL: u32 = 1000;

/// See the module.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pace {
    asked: Tempo,
    /// The time of a quarter in thousandths of what was asked for.
    permille: u32,
    /// The next of the bar's places where it slows down.
    next: usize,
    /// True once an outside clock has been heard: the tempo is its own.
    follows: bool,
}

impl Pace {
    pub(super) const fn new(asked: Tempo) -> Self {
        Self { asked, permille: FULL, next: 0, follows: false }
    }

    /// Another tempo is asked for: the one to be played at now.
    pub(super) const fn ask(&mut self, tempo: Tempo) -> Tempo {
        self.asked = tempo;
        tempo.stretched(self.permille)
    }
}

impl Cursor {
    /// The next place where the bar slows down, and how far.
    pub(super) fn next_slow(&self, scores: &Scores) -> Option<(i64, u32)> {
        if self.pace.follows || self.segment != Segment::Bar {
            return None;
        }
        let score = score(scores, self.slot)?;
        let bar = score.bars.get(self.bar)?;
        let slow = score.slow.get(bar.slow_from..bar.slow_to)?;
        slow.get(self.pace.next).map(|&(at, permille)| (self.head.saturating_add(at), permille))
    }

    /// Slows down at a point of the timeline.
    pub(super) fn slow_down(&mut self, scores: &Scores) {
        if let Some((at, permille)) = self.next_slow(scores) {
            self.pace.next += 1;
            self.go_at(at, permille);
        }
    }

    /// The bar begins at `head`: at full tempo, unless it is slower from its first beat on.
    pub(super) fn begin_pace(&mut self, scores: &Scores) {
        self.pace.next = 0;
        match self.next_slow(scores) {
            Some((at, _)) if at == self.head => self.slow_down(scores),
            _ => self.go_at(self.head, FULL),
        }
    }

    /// From a point of the timeline on at full tempo.
    pub(super) fn full_pace(&mut self, at: i64) {
        self.go_at(at, FULL);
    }

    /// The tempo is an outside clock's from now on.
    pub(super) fn follow_pace(&mut self) {
        self.pace.follows = true;
        if self.pace.permille != FULL {
            self.pace.permille = FULL;
            self.change_tempo(self.floor, self.pace.asked);
        }
    }

    fn go_at(&mut self, at: i64, permille: u32) {
        if self.pace.permille != permille {
            self.tie(at, self.time(at));
            self.pace.permille = permille;
            self.tempo = self.pace.asked.stretched(permille);
            self.mark = true;
        }
    }
}
