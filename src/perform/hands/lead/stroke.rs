use super::tone::Tone;
use crate::style::Loud;
use crate::theory::MidiNote;
use crate::time::Ticks;

/// What a lead's hands do at once.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stroke {
    /// Where on the even grid.
    pub at: Ticks,
    /// True where swing leaves it alone.
    pub even: bool,
    /// The bar, in the arrangement's bars.
    pub bar: u32,
    /// What.
    pub does: Does,
    /// How hard.
    pub loud: Loud,
    /// The share of that loudness.
    pub share: f64,
}

/// What is done.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Does {
    /// Stops what sounds.
    Stop,
    /// The chord, in the arrangement's spans, changes: open strings that do not belong to it stop.
    Change(usize),
    /// The round begins again.
    Again,
    /// Strings are struck, in this order, with what they sound.
    Strikes(Vec<(usize, MidiNote)>, Others),
    /// A string that sounds goes on as another note: hammered on, pulled off, or in the same bow.
    Joins(usize, MidiNote),
    /// A string that sounds is slid to another note.
    Slides(usize, MidiNote),
    /// All strike with the band and choke.
    Hits(Vec<(usize, MidiNote)>),
    /// All strike with the band and let it ring.
    Ends(Vec<(usize, MidiNote)>),
}

/// What becomes of the strings that a stroke does not strike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Others {
    /// They stop.
    Stop,
    /// Open ones that belong to the chord ring on.
    OpenRing,
    /// Whatever belongs to the chord rings on.
    Ring,
}

impl Stroke {
    /// At the beginning of a tone.
    pub(super) const fn of(tone: &Tone, does: Does) -> Self {
        Self { at: tone.at, even: tone.even, bar: tone.bar, does, loud: tone.loud, share: 1.0 }
    }

    /// What only stops or changes.
    pub(super) const fn silent(at: Ticks, bar: u32, does: Does) -> Self {
        Self { at, even: false, bar, does, loud: Loud::Normal, share: 1.0 }
    }

    /// The same so loud.
    pub(super) fn at_share(self, share: f64) -> Self {
        Self { share, ..self }
    }

    /// The same at another place.
    pub(super) fn moved(self, at: Ticks) -> Self {
        Self { at, ..self }
    }
}
