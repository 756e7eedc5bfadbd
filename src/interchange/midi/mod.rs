//! Standard MIDI Files as this program exports them: passes as markers, chords as texts, and the tune where one is
//! played. What else a file holds is the band's, and the band plays it anew.

mod conductor;
mod line;
mod read;

pub use read::read_midi;
