//! What comes in: takes from files, a MIDI input that is listened to, and how late a microphone hears.

mod aiff;
mod decoded;
mod loop_back;
#[cfg(feature = "devices")]
mod midi_input;
mod midi_take;
mod mp4;
mod quiet;
mod rates;
mod recorded;
mod signs;
mod sound_file;
mod source;
mod take_error;
mod wav;

pub use loop_back::{LoopBack, NoLoopBack, loop_back};
#[cfg(feature = "devices")]
pub use midi_input::{Input, listen};
pub use midi_take::read_take_midi;
pub use rates::{FASTEST_TAKE, MOST_HOURS, SLOWEST_TAKE};
pub use recorded::read_recorded;
pub use sound_file::{SoundFile, read_take_sound};
pub use source::SoundSource;
pub use take_error::TakeError;
