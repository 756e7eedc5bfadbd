//! Files: read whole, written whole, and where each kind is kept.

mod marks;
mod midi;
mod names;
mod pedals;
mod read;
mod shelf;
mod write;

pub(super) use marks::MarksFile;
pub(super) use midi::midi;
pub(super) use names::{is_same_file, is_stdout};
pub(super) use pedals::PedalFile;
pub(super) use read::read;
pub(super) use shelf::{FileShelf, LessonShelf};
pub(super) use write::{to_stdout, write_whole};
