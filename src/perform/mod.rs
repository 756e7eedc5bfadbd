//! What the band plays: notes with their times, made from an arrangement and a style.

mod around;
mod banjo;
mod bass;
mod between;
mod choice;
mod chop;
mod cues;
mod degree;
mod drift;
mod feel;
mod fiddle;
mod guitar;
mod kickoff;
mod lead;
mod leader;
mod levels;
mod lines;
mod message;
#[allow(clippy::module_inception)] // The act that the module is named for.
mod perform;
mod performance;
mod run;
mod slowing;
mod solo;
mod strings;
mod strum;
mod swing;
mod tag;
mod touch;

pub(crate) use around::with_what_comes;
use perform::CHOKE_MILLIS;
use run::{APART, Arrival};

pub use crate::style::Instrument;
pub use banjo::{BanjoDoes, BanjoDrafts, BanjoStep, Ends, Held, Pick, banjo_picks, picks_of};
pub use cues::{Act, Cue, banjo_cues};
pub use message::{
    CLICK_CHANNEL, Message, Sync, TimedMessage, messages, note_messages, part_messages,
};
pub use perform::{StyleMismatch, banjo_part, count_in_clicks, perform};
pub use performance::{Note, Part, Performance, Slowing};
pub use swing::Swing;
pub use touch::{Touch, Usual};
