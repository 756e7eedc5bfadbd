//! What the band plays: notes with their times, made from an arrangement and a style.

mod around;
mod bar_view;
mod between;
mod choice;
mod cue;
mod cues;
mod degree;
mod drift;
mod feel;
mod hands;
mod kickoff;
mod levels;
mod lines;
mod message;
#[allow(clippy::module_inception)] // The act that the module is named for.
mod perform;
mod performance;
mod push;
mod run;
mod slowing;
mod slurs;
mod strings;
mod strum;
mod swing;
mod tag;
mod touch;

pub(crate) use around::with_what_comes;
use run::{APART, Arrival};

pub use crate::style::Instrument;
pub use cue::{Act, Cue};
pub use feel::furthest_stray;
pub use hands::{
    BanjoDoes, BanjoDrafts, BanjoStep, Ends, Held, Pick, Slur, SlurKind, Sounded, TuneLevel,
    TuneNote, TuneStep, banjo_cues, banjo_part, banjo_picks, picks_of, tune_steps,
};
pub(crate) use message::is_gone_on_from;
pub use message::{
    CLICK_CHANNEL, LEGATO, Message, PORTAMENTO_CONTROL, Sync, TimedMessage, messages,
    note_messages, part_messages,
};
pub use perform::{StyleMismatch, count_in_clicks, perform};
pub use performance::{Note, Part, Performance, Slowing};
pub use strum::SLOWEST as SLOWEST_STRUM;
pub use swing::Swing;
pub use touch::{Touch, Usual};
