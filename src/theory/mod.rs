//! Pitches with spelling, keys, chords, scale-degree numbers and the fretboards they are played on.

mod chord;
mod key;
mod pitch;

pub use chord::{Chord, ChordError};
pub use key::{Key, Mode};
pub use pitch::{Letter, MidiNote, PitchName};
