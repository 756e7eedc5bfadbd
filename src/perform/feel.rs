use std::rc::Rc;

use super::drift::Drift;
use super::levels::Levels;
use super::swing::Swing;
use crate::chart::Role;
use crate::style::{Loud, Loudness, RoleStyle};
use crate::time::{Tempo, Ticks};

/// Places a role's strokes around the grid: swing, lean, wandering; and gives each its loudness.
#[derive(Clone, Debug)]
pub(super) struct Feel {
    swing: Swing,
    /// Where the song begins: what comes before, a count-in, changes nothing of how it is played.
    origin: Ticks,
    lean: i64,
    /// The furthest a stroke may stray, in ticks.
    loose: f64,
    loudness: Loudness,
    levels: Rc<Levels>,
    timing: Drift,
    touch: Drift,
    /// The last place on the grid, and where it was struck.
    last: (Ticks, Ticks),
}

impl Feel {
    /// For one role of one performance.
    pub(super) fn new(
        role: Role,
        style: &RoleStyle,
        swing: Swing,
        tempo: Tempo,
        origin: Ticks,
        seed: u64,
    ) -> Self {
        let stream = role.stream() * 2;
        // Whole ticks, rounded inward: never past what the style allows.
        let loose_ticks = tempo.ticks_in_millis(style.looseness);
        let loose = if tempo.nanos(loose_ticks).seconds() * 1000.0 > style.looseness {
            loose_ticks - Ticks::new(1)
        } else {
            loose_ticks
        };
        Self {
            swing,
            origin,
            lean: tempo.ticks_in_millis(style.lean).get(),
            loose: loose.get() as f64,
            loudness: style.loudness,
            levels: Rc::default(),
            timing: Drift::of_time(seed, stream),
            touch: Drift::of_touch(seed, stream + 1),
            last: (Ticks::new(-1), Ticks::new(-1)),
        }
    }

    /// The same, playing as loud from moment to moment as `levels` say.
    pub(super) fn at_levels(mut self, levels: &Rc<Levels>) -> Self {
        self.levels = Rc::clone(levels);
        self
    }

    /// When a stroke written at `at` is struck: later than every stroke written before it, and never
    /// before the song begins. Everything written at one place happens at one time. What is `even` does not swing.
    pub(super) fn place(&mut self, at: Ticks, even: bool) -> Ticks {
        let (last_at, last_placed) = self.last;
        if at == last_at {
            return last_placed;
        }
        let eighth = (at - self.origin).get().div_euclid(Ticks::EIGHTH.get());
        self.timing.advance(eighth);
        self.touch.advance(eighth);
        let stray = (self.loose * self.timing.value(inside(at))).trunc() as i64;
        let swung = if even { at } else { self.swing.moved(at) };
        let felt = swung + Ticks::new(self.lean + stray);
        let placed = felt.max(self.origin).max(last_placed + Ticks::new(1));
        self.last = (at, placed);
        placed
    }

    /// How hard the stroke at `at` is struck, 1 to 127. `share` is for up-strokes and inner strings.
    pub(super) fn velocity(&self, at: Ticks, loud: Loud, share: f64) -> u8 {
        let base = match loud {
            Loud::Ghost => self.loudness.ghost,
            Loud::Normal => self.loudness.normal,
            Loud::Accent => self.loudness.accent,
        };
        let vary = f64::from(self.loudness.vary) * self.touch.value(inside(at));
        (f64::from(base) * share * self.levels.at(at) + vary).round().clamp(1.0, 127.0) as u8
    }

    /// An up-stroke's share of a down-stroke's loudness.
    pub(super) const fn up(&self) -> f64 {
        self.loudness.up
    }
}

/// Where inside its eighth note a stroke is written.
fn inside(at: Ticks) -> u64 {
    at.get().rem_euclid(Ticks::EIGHTH.get()).unsigned_abs()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Meter;

    #[test]
    fn strokes_stay_within_what_the_style_allows() {
        let style = RoleStyle { lean: -4.0, looseness: 7.0, ..RoleStyle::plain(Role::Chop) };
        for bpm in [40.0, 108.0, 133.0, 300.0] {
            let tempo = Tempo::new(bpm, Meter::FourFour, 100.0);
            let even = Swing::new(None, &Default::default(), Meter::FourFour, tempo);
            let mut feel = Feel::new(Role::Chop, &style, even, tempo, Ticks::ZERO, 11);
            let start = 100;
            for eighth in start..start + 3000 {
                let at = Ticks::EIGHTH * eighth;
                let off = (feel.place(at, false) - at).get();
                let lean = tempo.ticks_in_millis(-4.0).get();
                let millis = tempo.nanos(Ticks::new((off - lean).abs())).seconds() * 1000.0;
                assert!(millis <= 7.0, "{millis} ms at {bpm}");
            }
        }
    }
}
