//! What became of a player over days: a few figures of each take that was reviewed, and what they show side by side.

mod entry;
mod songs;
mod words;

pub use entry::{Entry, read_entries};
pub use songs::{SongProgress, by_song};
pub use words::words;
