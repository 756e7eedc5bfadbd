//! Where a performance goes: a file, a MIDI port, a sound device. No sink knows another.

#[cfg(feature = "devices")]
mod by_path;
mod cuts;
#[cfg(feature = "devices")]
mod device_clock;
mod frame_map;
mod frames;
#[cfg(feature = "devices")]
mod input;
#[cfg(all(unix, feature = "devices"))]
mod jack;
#[cfg(all(unix, feature = "devices"))]
mod jack_state;
#[cfg(feature = "devices")]
mod live_source;
#[cfg(feature = "devices")]
mod midi_bytes;
mod midi_out;
#[cfg(feature = "devices")]
mod port;
#[cfg(feature = "devices")]
mod port_choice;
mod port_error;
#[cfg(feature = "devices")]
mod port_source;
#[cfg(feature = "devices")]
mod quiet;
mod read_wav;
pub mod smf;
#[cfg(feature = "devices")]
mod sound;
#[cfg(feature = "devices")]
mod sound_error;
#[cfg(feature = "devices")]
mod sound_port;
mod soundfont;
mod soundfont_file;
mod take_error;
#[cfg(feature = "devices")]
mod volume;
mod wav;
#[cfg(feature = "devices")]
mod whole_file;
mod written_notes;

#[cfg(feature = "devices")]
pub use by_path::save_wav;
pub use frame_map::Slack;
pub use frames::{Cycle, FrameQueue, FrameWriter, frame_queue, frame_queue_with};
#[cfg(feature = "devices")]
use input::InputPort;
#[cfg(feature = "devices")]
pub use input::{Input, listen};
#[cfg(feature = "devices")]
pub use live_source::LiveSource;
pub use midi_out::{AT_ONCE, Losses, MidiOut, Recorder, Recording, Sent};
#[cfg(feature = "devices")]
pub use port_choice::{MidiPort, MidiSystem, PortTarget, PortsList, ports_list};
pub use port_error::{PortError, Way};
#[cfg(feature = "devices")]
pub use port_source::PortSource;
#[cfg(feature = "devices")]
pub use quiet::{aloud, quietly};
pub use read_wav::{FASTEST_TAKE, SLOWEST_TAKE, read_take_wav};
pub use smf::read_take_midi;
#[cfg(feature = "devices")]
pub use sound::{SoundDevice, open_sound, sound_devices};
#[cfg(feature = "devices")]
pub use sound_error::SoundError;
#[cfg(feature = "devices")]
pub use sound_port::SoundPort;
pub use soundfont::{SoundFont, SoundFontBand, SoundFontError};
pub use take_error::TakeError;
#[cfg(feature = "devices")]
pub use volume::Volume;
pub use wav::{WavError, write_wav};
#[cfg(feature = "devices")]
pub use whole_file::write_whole;
