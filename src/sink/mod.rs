//! Where a performance goes: a file, a MIDI port, a sound device. No sink knows another.

mod sound;
mod sound_error;
mod sound_source;
mod soundfont;
mod soundfont_file;
mod wav;

pub use sound::{Playback, SoundDevice, SoundOutput, sound_devices};
pub use sound_error::SoundError;
pub use sound_source::SoundSource;
pub use soundfont::{SoundFont, SoundFontBand, SoundFontError};
pub use wav::{WavError, save_wav, write_wav};
