//! Where in its score the band is.

use super::{Scores, score};
use crate::live::Score;
use crate::live::score::ScoreBar;

/// What is under way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Segment {
    /// Silent, at the beginning of the bar.
    Paused,
    /// Clicks, or with no bars of them the moment before the first note, up to the bar.
    CountIn { bars: u32, length: i64 },
    /// The bar.
    Bar,
    /// The last bar is over, but for what still rings.
    Over,
    /// All is over.
    Ended,
}

/// See the module.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Position {
    /// The score's slot.
    pub slot: usize,
    /// The bar, in the score's bars.
    pub bar: usize,
    /// True once the bar was played into, so that going on in it begins no pass.
    pub entered: bool,
    pub segment: Segment,
    /// Where the segment begins, on the timeline.
    pub head: i64,
    /// Counts bars as they are played.
    pub visit: u32,
}

impl Position {
    /// Silent, at the first bar.
    pub const fn new(slot: usize) -> Self {
        Self { slot, bar: 0, entered: false, segment: Segment::Paused, head: 0, visit: 0 }
    }

    /// True if the band is silent and waits.
    pub fn is_paused(&self) -> bool {
        self.segment == Segment::Paused
    }

    /// True if clicks or a bar are under way.
    pub const fn is_playing(&self) -> bool {
        matches!(self.segment, Segment::Bar | Segment::CountIn { .. })
    }

    /// The score.
    pub fn score<'a>(&self, scores: &'a Scores) -> Option<&'a Score> {
        score(scores, self.slot)
    }

    /// The bar.
    pub fn bar_in<'a>(&self, scores: &'a Scores) -> Option<&'a ScoreBar> {
        self.score(scores)?.bars.get(self.bar)
    }

    /// Where the segment ends; none while silent.
    pub fn line(&self, scores: &Scores) -> Option<i64> {
        match self.segment {
            Segment::CountIn { length, .. } => Some(self.head.saturating_add(length)),
            Segment::Bar => Some(self.head.saturating_add(self.bar_in(scores)?.length)),
            Segment::Paused | Segment::Over | Segment::Ended => None,
        }
    }

    /// Where the bar begins, or will once the clicks before it are over.
    pub const fn bar_head(&self) -> i64 {
        match self.segment {
            Segment::CountIn { length, .. } => self.head.saturating_add(length),
            _ => self.head,
        }
    }

    /// Moves to the bar of that number, or the nearest, while nothing sounds.
    pub fn go_to(&mut self, scores: &Scores, number: usize) {
        let Some(score) = self.score(scores) else { return };
        self.bar = score.find(number, self.bar);
        self.entered = false;
    }

    /// The clicks before the bar begin where the last segment ended.
    pub fn click_in(&mut self, scores: &Scores, bars: u32) {
        let bar = self.score(scores).map_or(0, |score| score.click_bar);
        self.segment = Segment::CountIn { bars, length: bar.saturating_mul(i64::from(bars)) };
    }

    /// The bar begins.
    pub const fn enter(&mut self) {
        self.segment = Segment::Bar;
        self.entered = true;
    }

    /// Another bar is played, or the same once more.
    pub const fn count(&mut self) {
        self.visit = self.visit.wrapping_add(1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::testing::{arrangement, performance};

    fn scores() -> Scores {
        let song = arrangement("| G | C | (2/4) D | G |", "");
        let mut scores: Scores = Default::default();
        scores[1] = Some(Box::new(Score::new(0, &song, &performance(&song))));
        scores
    }

    #[test]
    fn the_line_is_where_the_bar_or_its_clicks_end() {
        let scores = scores();
        let mut here = Position { bar: 2, head: 100, ..Position::new(1) };
        assert_eq!((here.line(&scores), here.bar_head()), (None, 100), "silent");
        here.click_in(&scores, 2);
        assert_eq!((here.line(&scores), here.bar_head()), (Some(7780), 7780));
        here.enter();
        assert_eq!((here.line(&scores), here.bar_head()), (Some(2020), 100));
        here.slot = 0;
        assert_eq!(here.line(&scores), None, "no score there");
    }

    #[test]
    fn who_goes_elsewhere_has_not_entered() {
        let mut here = Position { bar: 1, entered: true, ..Position::new(1) };
        here.go_to(&scores(), 4);
        assert_eq!((here.bar, here.entered), (3, false));
    }
}
