use std::fmt;
use std::ops::RangeInclusive;

use super::super::Level;
use crate::perform::SlurKind;
use crate::style::Loud;
use crate::theory::Chord;
use crate::theory::fretboard::banjo::{Finger, SHORT_STRING};
use crate::time::Meter;

/// What a lick is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Purpose {
    /// A singer's pause.
    Fill,
    /// The last notes before another chord.
    LeadIn,
    /// The last bar before the last chord.
    Ending,
    /// The bar before the first, alone.
    Kickoff,
    /// The line of the tag after the form, where nobody else plays it.
    Tag,
}

impl Purpose {
    /// All, as the documents list them.
    pub const ALL: [Self; 5] = [Self::Fill, Self::LeadIn, Self::Ending, Self::Kickoff, Self::Tag];

    /// The word that files use.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Fill => "fill",
            Self::LeadIn => "lead-in",
            Self::Ending => "ending",
            Self::Kickoff => "kickoff",
            Self::Tag => "tag",
        }
    }

    /// The level from which on such licks are played where theirs is not given.
    pub const fn level(self) -> Level {
        match self {
            Self::LeadIn => Level::LeadIns,
            Self::Fill | Self::Ending | Self::Kickoff | Self::Tag => Level::Full,
        }
    }
}

impl fmt::Display for Purpose {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A lick as its file has it: over one chord, without a capo.
#[derive(Clone, Debug, PartialEq)]
pub struct Lick {
    /// What players call it.
    pub name: String,
    /// What it is for.
    pub purpose: Purpose,
    /// The chord that it stands on, as fretted without a capo.
    pub chord: Chord,
    /// The chord that it leads to; `None` for one that leads nowhere by itself.
    pub to: Option<Chord>,
    /// The meters whose steps it fits.
    pub meters: Vec<Meter>,
    /// The level from which on it is played.
    pub level: Level,
    /// The tempos that it is for, in beats a minute of the meter's own beat.
    pub tempo: RangeInclusive<f64>,
    /// What happens in each step: an eighth, or in 2/4 a sixteenth.
    pub slots: Vec<LickSlot>,
    /// What is picked where the chord that it leads to begins: its root or its third.
    pub arrives: Option<LickSlot>,
}

/// A step of a lick.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LickSlot {
    /// What sounds rings on.
    Ring,
    /// All strings are stopped.
    Rest,
    /// Notes at once.
    Notes {
        /// The strings, one or more.
        notes: Vec<LickNote>,
        /// How hard.
        loud: Loud,
        /// True if the left hand lets go at once.
        choked: bool,
    },
}

/// A note of a lick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LickNote {
    /// The string, 1 to 5.
    pub string: u8,
    /// The fret that it begins at; 0 open.
    pub fret: u8,
    /// The finger that picks it; `None` where the left hand takes the sounding string there.
    pub finger: Option<Finger>,
    /// For one that the left hand makes, how; for one that is picked, how it goes on half a step later, and to which
    /// fret.
    pub slur: Option<(SlurKind, u8)>,
}

impl LickNote {
    /// The fret that the string has after it.
    pub fn ends_at(&self) -> u8 {
        match (self.finger, self.slur) {
            (Some(_), Some((_, fret))) => fret,
            _ => self.fret,
        }
    }
}

impl LickSlot {
    /// The notes that begin in it.
    pub fn notes(&self) -> &[LickNote] {
        match self {
            Self::Notes { notes, .. } => notes,
            Self::Ring | Self::Rest => &[],
        }
    }
}

impl Lick {
    /// All its notes in order, with where it arrives.
    pub fn notes(&self) -> impl Iterator<Item = &LickNote> {
        self.slots.iter().chain(&self.arrives).flat_map(LickSlot::notes)
    }

    /// True if it lies on stopped strings alone, and so can be played anywhere up the neck.
    pub fn is_closed(&self) -> bool {
        self.notes().all(|note| note.string != SHORT_STRING && note.fret > 0 && note.ends_at() > 0)
    }

    /// True if the left hand makes a note of it.
    pub fn has_slur(&self) -> bool {
        self.notes().any(|note| note.slur.is_some())
    }
}
