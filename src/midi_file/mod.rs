//! Standard MIDI Files as tracks of events, written and read. The only folder that names midly.

mod event;
mod read;
mod write;

pub use event::Event;
pub use read::{MidiFile, Timing, read};
pub use write::{TrackWriter, WrittenTrack, write};
