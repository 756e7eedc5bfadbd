//! What the hands of each role do: all of a role that is no data.

mod banjo;
mod bass;
mod chop;
mod fiddle;
mod guitar;
mod lead;

pub use banjo::tune::{TuneLevel, TuneNote, TuneStep, tune_steps};
pub use banjo::{
    BanjoDoes, BanjoDrafts, BanjoStep, Ends, Held, Pick, Slur, SlurKind, Sounded, banjo_cues,
    banjo_part, banjo_picks, picks_of,
};
pub(super) use lead::written_line;

use super::choice::Seat;
use super::feel::Feel;
use super::{Instrument, Note};
use crate::arrange::Arrangement;
use crate::band::Role;
use crate::style::RoleStyle;
use crate::theory::{Chord, MidiNote};
use crate::time::Ticks;

/// A part's sound at its beginning, and the General MIDI programs that it changes to and when.
pub(super) type Sounds = (Instrument, Vec<(Ticks, u8)>);

/// The hands of a role.
pub(super) struct Hands {
    /// All its notes from the form on, placed by a feel that begins there.
    pub play: fn(&Seat<'_>, Feel) -> Vec<Note>,
    /// What it strikes in the shuffles of a kickoff.
    pub shuffle: Shuffle,
    /// What its notes are played on, where the style names that instrument.
    pub sounds: fn(&Arrangement, Instrument, &[Note]) -> Sounds,
}

/// What a role strikes in the shuffles of a kickoff.
pub(super) enum Shuffle {
    /// The home note.
    Home,
    /// The home note and its fifth above, by one finger over two strings or none.
    Drone {
        /// The lowest that the home note may be.
        lowest: u8,
    },
    /// What whoever leads has: a fiddle the drone, from so high up, any other the home note.
    Leads {
        /// The lowest that the drone's home note may be.
        drone: u8,
    },
    /// The home chord with a capo, by these strings of it in the order of the stroke.
    Strum(fn(&Chord, u8, &RoleStyle) -> Vec<(usize, MidiNote)>),
}

impl Hands {
    /// Those of a role.
    pub(super) const fn of(role: Role) -> Self {
        match role {
            Role::Bass => Self { play: bass::play, shuffle: Shuffle::Home, sounds: the_styles },
            Role::Chop => Self {
                play: chop::play,
                shuffle: Shuffle::Strum(chop::shuffle),
                sounds: the_styles,
            },
            Role::Guitar => Self {
                play: guitar::play,
                shuffle: Shuffle::Strum(guitar::shuffle),
                sounds: the_styles,
            },
            Role::Banjo => Self { play: banjo::play, shuffle: Shuffle::Home, sounds: the_styles },
            Role::Fiddle => Self {
                play: fiddle::play,
                shuffle: Shuffle::Drone { lowest: fiddle::DRONE },
                sounds: the_styles,
            },
            Role::Lead => Self {
                play: lead::play,
                shuffle: Shuffle::Leads { drone: fiddle::DRONE },
                sounds: lead::sounds,
            },
        }
    }
}

/// One sound all the way: the one that the style names.
const fn the_styles(_: &Arrangement, own: Instrument, _: &[Note]) -> Sounds {
    (own, Vec::new())
}
