//! How loud and how fast the left hand makes notes.

use super::strings::{Ring, Strings};
use crate::theory::MidiNote;
use crate::time::{Tempo, Ticks};

/// How loud a slurred note is beside one that is picked: a finger that comes down on a string, or plucks it in
/// leaving, gives it less than a pick does (common practice, no source).
pub(super) const SLURRED: f64 = 0.88;

/// How loud the frets are that a slide goes over, beside a picked note.
pub(super) const PASSING: f64 = 0.5;

/// How long a slide stays on each of the frets between, in milliseconds: a whole step is done within a
/// thirty-second note at 240 quarters a minute (common practice, no source).
const SLIDE_MILLIS: f64 = 30.0;

/// The shortest time from a note to one that is slurred from it, in milliseconds: no hand is faster (common
/// practice, no source).
const HAND_MILLIS: f64 = 40.0;

/// A hand's slides at a tempo.
#[derive(Clone, Copy, Debug)]
pub(super) struct SlidingHand {
    step: Ticks,
}

impl SlidingHand {
    pub(super) fn at(tempo: Tempo) -> Self {
        Self { step: tempo.ticks_in_millis(SLIDE_MILLIS) }
    }

    /// Slides a string to a pitch, with `velocity` for the share of a picked note's loudness.
    pub(super) fn slide(
        self,
        strings: &mut Strings,
        (string, at, pitch): (usize, Ticks, MidiNote),
        velocity: impl Fn(f64) -> u8,
        ring: Ring,
    ) {
        let loud = (velocity(SLURRED), velocity(PASSING));
        strings.slide(string, at, pitch, loud, (self.step, ring));
    }
}

/// The shortest time at a tempo from a note to one that is slurred from it.
pub(super) fn soonest(tempo: Tempo) -> Ticks {
    tempo.ticks_in_millis(HAND_MILLIS)
}
