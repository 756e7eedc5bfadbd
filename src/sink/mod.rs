//! Where a performance goes: a file, an output of MIDI, sound. No sink knows another.

mod cuts;
#[cfg(feature = "devices")]
mod flac;
mod frame_map;
mod frames;
mod midi_out;
mod send_error;
pub mod smf;
mod soundfont;
mod soundfont_file;
#[cfg(feature = "devices")]
mod system;
mod wav;
mod written_notes;

#[cfg(feature = "devices")]
pub use flac::write_flac;
pub use frame_map::Slack;
pub use frames::{Cycle, FrameQueue, FrameWriter, frame_queue, frame_queue_with};
pub use midi_out::{AT_ONCE, Losses, MidiOut, Recorder, Recording, Sent};
pub use send_error::SendError;
pub use soundfont::{SoundFont, SoundFontBand, SoundFontError};
#[cfg(feature = "devices")]
pub use system::{
    Captured, LiveSource, Microphone, MicrophoneError, SoundDevice, SoundError, SoundPort, Volume,
    aloud, microphones, open_sound, quietly, save_flac, save_stem, save_wav, sound_devices,
    write_whole,
};
pub use wav::{GrowingWav, WavError, write_stem, write_wav};
