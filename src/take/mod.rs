//! A take: what was heard of the player alone, by MIDI or by ear.

mod hit;
mod strokes;

pub use hit::{Hit, Source, Take};
pub use strokes::STROKE;
