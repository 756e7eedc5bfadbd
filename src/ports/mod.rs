//! MIDI ports of other programs and of instruments: which there are, which one is meant, and how it is opened.
//!
//! Each system that has ports is a `MidiBackend`, in a file of its own that alone names its library;
//! `registry.rs` knows which there are.

mod assembler;
mod backend;
#[cfg(unix)]
mod band_frames;
mod choice;
#[cfg(unix)]
mod cycle_starts;
mod error;
#[cfg(unix)]
mod jack;
#[cfg(unix)]
mod jack_state;
mod port;
mod registry;
mod source;
mod system;

pub(crate) use backend::InputPort;
pub use error::{PortError, Way};
pub use port::{MidiPort, MidiSystem, PortTarget, PortsList};
pub(crate) use registry::open_input;
pub use registry::{ports_list, running_server};
pub use source::PortSource;
