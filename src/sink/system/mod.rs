//! The sinks that need a system under them: its sound devices, files by their path, and its standard error,
//! which its libraries write to.

mod by_path;
mod device_clock;
mod live_source;
mod quiet;
mod sound;
mod sound_error;
mod sound_port;
mod volume;
mod whole_file;

pub use by_path::save_wav;
pub use live_source::LiveSource;
pub use quiet::{aloud, quietly};
pub use sound::{SoundDevice, open_sound, sound_devices};
pub use sound_error::SoundError;
pub use sound_port::SoundPort;
pub use volume::Volume;
pub use whole_file::write_whole;
