//! The sinks that need a system under them: its sound devices (and what is heard from those, a microphone), files by their path, and its standard error,
//! which its libraries write to.

mod by_path;
mod captured;
mod device_clock;
mod live_source;
mod microphone;
mod microphone_error;
mod quiet;
mod sound;
mod sound_error;
mod sound_port;
mod volume;
mod whole_file;

pub use by_path::{save_flac, save_stem, save_wav};
pub use captured::Captured;
pub use live_source::LiveSource;
pub use microphone::{Microphone, microphones};
pub use microphone_error::MicrophoneError;
pub use quiet::{aloud, quietly};
pub use sound::{SoundDevice, open_sound, sound_devices};
pub use sound_error::SoundError;
pub use sound_port::SoundPort;
pub use volume::Volume;
pub use whole_file::write_whole;
