//! Where a performance goes: a file, a MIDI port, a sound device. No sink knows another.

mod cuts;
mod device_clock;
mod frame_map;
mod frames;
mod input;
#[cfg(unix)]
mod jack;
#[cfg(unix)]
mod jack_state;
mod live_source;
mod midi_bytes;
mod midi_out;
mod port;
mod port_choice;
mod port_error;
mod port_source;
mod quiet;
mod read_wav;
pub mod smf;
mod sound;
mod sound_error;
mod sound_port;
mod soundfont;
mod soundfont_file;
mod take_error;
mod volume;
mod wav;
mod whole_file;
mod written_notes;

pub use frame_map::Slack;
pub use frames::{Cycle, FrameQueue, FrameWriter, frame_queue, frame_queue_with};
use input::InputPort;
pub use input::{Input, listen};
pub use live_source::LiveSource;
pub use midi_out::{AT_ONCE, Losses, MidiOut, Recorder, Recording, Sent};
pub use port_choice::{MidiPort, MidiSystem, PortTarget, PortsList, ports_list};
pub use port_error::{PortError, Way};
pub use port_source::PortSource;
pub use quiet::{aloud, quietly};
pub use read_wav::{FASTEST_TAKE, SLOWEST_TAKE, read_take_wav};
pub use smf::read_take_midi;
pub use sound::{SoundDevice, open_sound, sound_devices};
pub use sound_error::SoundError;
pub use sound_port::SoundPort;
pub use soundfont::{SoundFont, SoundFontBand, SoundFontError};
pub use take_error::TakeError;
pub use volume::Volume;
pub use wav::{WavError, save_wav, write_wav};
pub use whole_file::write_whole;
