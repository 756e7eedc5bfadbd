//! Where a performance goes: a file, a MIDI port, a sound device. No sink knows another.

mod frames;
#[cfg(unix)]
mod jack;
mod midi_out;
mod port;
mod port_choice;
mod port_error;
mod quiet;

pub use frames::{Cycle, FrameQueue, FrameWriter, frame_queue};
pub use midi_out::{AT_ONCE, Losses, MidiOut, Recorder, Recording, Sent};
pub use port_choice::{MidiPort, MidiSystem, PortTarget, PortsList, open, ports_list};
pub use port_error::PortError;
pub use quiet::quietly;
