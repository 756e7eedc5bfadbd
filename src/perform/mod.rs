//! What the band plays: notes with their times, made from an arrangement and a style.

mod around;
mod banjo;
mod bass;
mod choice;
mod chop;
mod cues;
mod degree;
mod drift;
mod feel;
mod fiddle;
mod guitar;
mod lead;
mod message;
#[allow(clippy::module_inception)] // The act that the module is named for.
mod perform;
mod performance;
mod run;
mod strings;
mod strum;
mod swing;

use perform::CHOKE_MILLIS;
use run::{APART, Arrival};

pub use crate::style::Instrument;
pub use message::{CLICK_CHANNEL, Message, Sync, TimedMessage, messages, note_messages};
pub use perform::{StyleMismatch, count_in_clicks, perform};
pub use performance::{Note, Part, Performance};
