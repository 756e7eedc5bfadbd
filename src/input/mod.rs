//! What comes in: takes from files, and a MIDI input that is listened to.

#[cfg(feature = "devices")]
mod midi_input;
mod midi_take;
mod rates;
mod recorded;
mod signs;
mod take_error;
mod wav;

#[cfg(feature = "devices")]
pub use midi_input::{Input, listen};
pub use midi_take::read_take_midi;
pub use rates::{FASTEST_TAKE, SLOWEST_TAKE};
pub use recorded::read_recorded;
pub use take_error::TakeError;
pub use wav::read_take_wav;
