use super::Condition;
use crate::time::{Meter, Ticks};

/// One bar of one role, on a grid of equal slots.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// When it is played.
    pub when: Condition,
    /// The meter that it fills.
    pub meter: Meter,
    /// How often it is played when its turn comes, 0 (never) to 1 (always).
    pub chance: f64,
    /// What happens in each slot. Slots times [`Self::slot`] is the meter's bar.
    pub slots: Vec<Slot>,
    /// The length of a slot.
    pub slot: Ticks,
}

/// What happens in a slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slot {
    /// `.`: what sounds rings on.
    Ring,
    /// `-`: what sounds is damped.
    Rest,
    /// Something is struck.
    Strike(Strike),
}

/// What is struck at once: a bass note, a stroke, or both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Strike {
    /// The bass note.
    pub bass: Option<BassNote>,
    /// The stroke over the upper strings.
    pub stroke: Option<Stroke>,
    /// How hard.
    pub loud: Loud,
}

/// A bass note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BassNote {
    /// A note of the chord.
    Degree {
        /// Which.
        degree: Degree,
        /// -1 asks for the octave below the usual place, 1 for the one above.
        octave: i8,
    },
    /// `>`: a step on the way into the next chord's root.
    Walk,
}

/// A note of a chord by its degree.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Degree {
    /// `R`: the root, or the slash bass.
    Root,
    /// `3`
    Third,
    /// `5`
    Fifth,
    /// `6`
    Sixth,
    /// `7`
    Seventh,
    /// `8`: the root an octave up.
    Octave,
}

/// A stroke over several strings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Stroke {
    /// `D`: from the low strings to the high.
    Down,
    /// `U`: from the high strings to the low, lighter.
    Up,
    /// `x`: down, and choked at once by the left hand.
    Chop,
}

/// How hard a strike is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Loud {
    /// `( )`: felt more than heard.
    Ghost,
    /// As the part goes.
    #[default]
    Normal,
    /// `!`: above the rest.
    Accent,
}

impl Pattern {
    /// True if the bar holds a walking step.
    pub fn walks(&self) -> bool {
        self.slots
            .iter()
            .any(|slot| matches!(slot, Slot::Strike(Strike { bass: Some(BassNote::Walk), .. })))
    }
}
