//! A take: what was heard of the player alone, by MIDI or by ear.

mod hit;

pub use hit::{Hit, Source, Take};
