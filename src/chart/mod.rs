//! The song file: sections of bars with their chords, who sings and who leads, and the form.

mod bar_row;
mod check;
mod chord_row;
mod draft;
mod dynamic;
mod examples;
mod form;
mod head;
mod layout;
mod limits;
mod mark_row;
mod melody_row;
mod read;
mod read_pickup;
mod repeat;
mod section;
mod section_part;
mod section_rows;
mod share;
mod sign;
mod song;
mod split;
mod stop_row;
mod style_name;
#[cfg(test)]
mod testing;
mod unroll;
mod voice_row;
mod words;
mod write;
mod write_rows;

pub use crate::band::{Lead, Role, RoleSet};
pub use draft::{FormEntry, Given, SectionDraft, SongDraft};
pub use dynamic::Dynamic;
pub use limits::{MOST_BARS, MOST_PASSES, MOST_SECTIONS};
pub use read::{read_song, read_song_and_header};
pub use section::{ChartBar, Pickup, Section, Stop, Tune};
pub use section_part::SectionPart;
pub use share::Share;
pub use song::{Ending, Header, Kickoff, Pass, Song, SongSpans};
pub use style_name::{NoStyleName, check_style_name};
pub(crate) use words::roles as read_roles;
pub use write::write_song;
