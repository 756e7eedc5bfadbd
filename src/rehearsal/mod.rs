//! The rehearsal: the one door from a song, a style and what a player asks for to what the band plays and
//! what it leaves open. It opens no file: texts are found by a [`StyleShelf`], and [`Shipped`] is one without
//! files.
//!
//! [`Rehearsal::read`] takes a song's text and [`Wishes`]; [`Rehearsal::arrangement`] lays out what is to be
//! played, [`Rehearsal::perform`] plays it, and a [`Rendition`] knows what it covers. Nothing that stands after
//! it arranges or performs by itself.

mod again;
mod file_name;
mod find_style;
mod lesson_ready;
mod lesson_sheet;
mod open_chair;
mod read;
#[allow(clippy::module_inception)] // What the module is named for.
mod rehearsal;
mod remark;
mod rendition;
mod review;
mod review_take;
mod shelf;
mod shipped;
mod songbook;
mod styles_read;
mod voices;
mod went_round;
mod wishes;

pub use again::command_again;
pub use file_name::{is_toml, stem};
pub use find_style::{NoStyle, StyleError, WrongStyle};
pub use lesson_ready::{Ready, lesson_ready};
pub use lesson_sheet::lesson_sheet;
pub use open_chair::{BackupPart, HasBanjo};
pub use read::{NotRead, check_with_own_style, read_with_own_style};
pub use rehearsal::{NoRehearsal, NotPlayed, Rehearsal};
pub use remark::Remark;
pub use rendition::Rendition;
pub use review::{Disagrees, NoReview};
pub use review_take::NotTold;
pub use shelf::{NoText, SeenFrom, SongShelf, StyleShelf};
pub use shipped::Shipped;
pub use songbook::{SongFacts, song_name};
pub use styles_read::StylesRead;
pub use voices::Voices;
pub use wishes::Wishes;
