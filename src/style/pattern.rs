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

/// What is struck at once: a note, a stroke, both, or some of the banjo's strings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Strike {
    /// The note that is asked for by its degree: of the bass, of the guitar's bass strings, or on
    /// whichever of the banjo's strings has it.
    pub bass: Option<BassNote>,
    /// The stroke over the upper strings, or of the bow.
    pub stroke: Option<Stroke>,
    /// The banjo's strings, picked together.
    pub strings: BanjoStrings,
    /// How hard.
    pub loud: Loud,
}

/// Some of a banjo's five strings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct BanjoStrings(u8);

impl BanjoStrings {
    /// None of them.
    pub const NONE: Self = Self(0);

    /// These and string `number`, 1 to 5; any other number changes nothing.
    #[must_use]
    pub const fn with(self, number: u8) -> Self {
        match number {
            1..=5 => Self(self.0 | 1 << (number - 1)),
            _ => self,
        }
    }

    /// True if string `number`, 1 to 5, is among them.
    pub const fn contains(self, number: u8) -> bool {
        matches!(number, 1..=5) && self.0 & 1 << (number - 1) != 0
    }

    /// True if there are none.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many there are.
    pub const fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// Their numbers, from 1 up.
    pub fn iter(self) -> impl Iterator<Item = u8> {
        (1..=5).filter(move |&number| self.contains(number))
    }
}

/// A note by its degree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BassNote {
    /// A note of the chord.
    Degree {
        /// Which.
        degree: Degree,
        /// -1 asks for the octave below the usual place, 1 for the one above.
        octave: i8,
    },
    /// `>`: a step on the way into the next chord's root. The banjo's is its last one: the lead-in.
    Walk,
    /// `G`: a step of the G run, which says that the line is over and the band at home.
    GRun,
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

/// A stroke over several strings, or of a bow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Stroke {
    /// `D`: from the low strings to the high.
    Down,
    /// `U`: from the high strings to the low, lighter.
    Up,
    /// `x`: down, and choked at once by the left hand. The banjo's is a vamp, the fiddle's a chop of
    /// the bow.
    Chop,
    /// `o`: one note, which the player finds.
    Tone,
    /// `oo`: two notes at once, which the player finds.
    DoubleStop,
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

    /// True if the bar holds a step of the G run.
    pub fn runs_home(&self) -> bool {
        self.slots
            .iter()
            .any(|slot| matches!(slot, Slot::Strike(Strike { bass: Some(BassNote::GRun), .. })))
    }
}
