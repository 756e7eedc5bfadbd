//! What the band plays: notes with their times, made from an arrangement and a style.

mod message;
mod performance;

pub use crate::style::Instrument;
pub use message::{CLICK_CHANNEL, Message, TimedMessage, messages, note_messages};
pub use performance::{Note, Part, Performance};
