//! The song file: sections of bars with their chords, who sings and who leads, and the form.

mod read;
mod role;
mod section;
mod share;
mod song;

pub use read::read_song;
pub use role::{Lead, Role, RoleSet};
pub use section::{Bar, Section, Stop};
pub use share::Share;
pub use song::{Ending, Pass, Song, SongSpans};
