//! How the cursor's ticks lie in time: where they are tied to it, and how fast they go.

use crate::time::{Nanos, Tempo, Ticks};

/// A quarter's time at full tempo, in thousandths.
const FULL: u32 = 1000;

/// See the module. A point of the timeline is so many ticks, which run on through every jump; times are nanoseconds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Timeline {
    /// A point and its time.
    anchor: i64,
    anchor_at: i64,
    /// The present tempo: the one that was asked for, and slower where an ending slows down.
    tempo: Tempo,
    asked: Tempo,
    /// The time of a quarter in thousandths of what was asked for.
    permille: u32,
    /// True once an outside clock has been heard: the tempo is its own.
    follows: bool,
    /// The point of the outside clock's place 0, if it said where it started.
    pub outside: Option<i64>,
    /// Nothing happens before this time any more.
    floor: i64,
}

impl Timeline {
    /// Its point 0 is at time 0.
    pub const fn new(tempo: Tempo) -> Self {
        Self {
            anchor: 0,
            anchor_at: 0,
            tempo,
            asked: tempo,
            permille: FULL,
            follows: false,
            outside: None,
            floor: 0,
        }
    }

    /// The present tempo.
    pub const fn tempo(&self) -> Tempo {
        self.tempo
    }

    /// When a point is, at the present tempo.
    pub fn time(&self, point: i64) -> i64 {
        let from_anchor = Ticks::new(point.saturating_sub(self.anchor));
        self.anchor_at.saturating_add(self.tempo.nanos(from_anchor).0)
    }

    /// Ties a point to a time.
    pub const fn tie(&mut self, point: i64, time: i64) {
        (self.anchor, self.anchor_at) = (point, time);
    }

    /// Another tempo is asked for: from the point on that it is tied at.
    pub const fn ask(&mut self, tempo: Tempo) {
        self.asked = tempo;
        self.tempo = tempo.stretched(self.permille);
    }

    /// Another tempo is asked for from now, the floor, on: who is somewhere after `head` now stays there.
    pub fn change_tempo(&mut self, head: i64, tempo: Tempo) {
        let (at, before) = (self.floor, self.tempo);
        let begun = self.time(head);
        self.ask(tempo);
        let scaled = i128::from(at.saturating_sub(begun))
            * i128::from(self.tempo.micros_per_quarter())
            / i128::from(before.micros_per_quarter());
        let begun = i128::from(at) - scaled;
        let limit = if begun < 0 { i64::MIN } else { i64::MAX };
        self.tie(head, i64::try_from(begun).unwrap_or(limit));
    }

    /// From a point on the time of a quarter is so many thousandths of what was asked for. False if it was so before.
    pub fn stretch(&mut self, point: i64, permille: u32) -> bool {
        let changes = self.permille != permille;
        if changes {
            self.tie(point, self.time(point));
            self.permille = permille;
            self.tempo = self.asked.stretched(permille);
        }
        changes
    }

    /// From a point on at full tempo. False if it was so before.
    pub fn full(&mut self, point: i64) -> bool {
        self.stretch(point, FULL)
    }

    /// The tempo is an outside clock's from now on, and no ending slows it down.
    pub fn follow(&mut self, head: i64) {
        self.follows = true;
        if self.permille != FULL {
            self.permille = FULL;
            self.change_tempo(head, self.asked);
        }
    }

    /// True once the tempo is an outside clock's.
    pub const fn follows(&self) -> bool {
        self.follows
    }

    /// Nothing happens before this time any more.
    pub const fn floor(&self) -> i64 {
        self.floor
    }

    /// The first point that is not before the floor.
    pub fn here(&self) -> i64 {
        let since = self.floor.saturating_sub(self.anchor_at);
        let point = self.anchor.saturating_add(self.ticks(since));
        if self.time(point) < self.floor { point.saturating_add(1) } else { point }
    }

    /// Nothing is to come before a time.
    pub const fn set_floor(&mut self, time: i64) {
        self.floor = time;
    }

    /// Stands still from the floor up to a time.
    pub const fn hold(&mut self, to: i64) {
        self.anchor_at = self.anchor_at.saturating_add(to.saturating_sub(self.floor));
        self.floor = to;
    }

    /// How many ticks a stretch of time is, at the present tempo.
    pub fn ticks(&self, nanos: i64) -> i64 {
        self.tempo.ticks(Nanos(nanos)).get()
    }

    /// How long a stretch of ticks is, at the present tempo.
    pub fn nanos(&self, ticks: i64) -> i64 {
        self.tempo.nanos(Ticks::new(ticks)).0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half a second, and a quarter, to the quarter.
    const SLOW: Tempo = Tempo::from_micros(500_000);
    const FAST: Tempo = Tempo::from_micros(250_000);
    const QUARTER: i64 = 960;
    const SECOND: i64 = 1_000_000_000;

    #[test]
    fn another_tempo_leaves_the_place() {
        let mut timeline = Timeline::new(SLOW);
        timeline.set_floor(SECOND);
        timeline.change_tempo(0, FAST);
        assert_eq!(timeline.time(2 * QUARTER), SECOND, "two quarters are over, as they were");
        assert_eq!(timeline.time(4 * QUARTER), SECOND * 3 / 2);
        assert_eq!(timeline.tempo(), FAST);
    }

    #[test]
    fn what_is_slowed_down_is_slowed_down_at_any_tempo() {
        let mut timeline = Timeline::new(SLOW);
        assert!(timeline.stretch(QUARTER, 2000) && !timeline.stretch(QUARTER, 2000));
        assert_eq!(
            (timeline.time(QUARTER), timeline.time(2 * QUARTER)),
            (SECOND / 2, SECOND * 3 / 2)
        );
        timeline.ask(FAST);
        assert_eq!(timeline.tempo(), SLOW);
        assert!(timeline.full(2 * QUARTER));
        assert_eq!(timeline.tempo(), FAST);
    }

    #[test]
    fn who_follows_is_not_slowed_down() {
        let mut timeline = Timeline::new(SLOW);
        timeline.stretch(0, 1500);
        timeline.follow(0);
        assert!(timeline.follows());
        assert_eq!((timeline.tempo(), timeline.time(QUARTER)), (SLOW, SECOND / 2));
    }

    #[test]
    fn what_is_held_goes_on_where_it_was() {
        let mut timeline = Timeline::new(SLOW);
        timeline.set_floor(SECOND);
        timeline.hold(5 * SECOND);
        assert_eq!((timeline.floor(), timeline.time(2 * QUARTER)), (5 * SECOND, 5 * SECOND));
    }
}
