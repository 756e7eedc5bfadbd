//! Where a performance goes: a file, a MIDI port, a sound device. No sink knows another.

pub mod smf;
mod wav;

pub use wav::{WavError, save_wav, write_wav};
