//! Files: read whole, written whole, and where each kind is kept.

mod below;
pub(super) mod diary;
mod latencies;
mod lesson_shelf;
mod marks;
mod midi;
mod names;
mod native;
mod open;
mod pedals;
mod read;
mod shelf;
mod songbook;
mod write;

pub(super) use below::{files_below, is_hidden};
pub(super) use latencies::{Latencies, Latency};
pub(super) use lesson_shelf::LessonShelf;
pub(super) use marks::MarksFile;
pub(super) use midi::midi;
pub(super) use names::{is_same_file, is_stdout};
pub(super) use native::native;
pub(super) use open::open;
pub(super) use pedals::PedalFile;
pub(super) use read::read;
pub(super) use shelf::FileShelf;
pub(super) use songbook::{OwnSongs, find_song};
pub(super) use write::{say_to_stdout, to_stdout, write_whole};
