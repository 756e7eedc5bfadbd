//! Lessons: a teacher's list of what a student is to practise, and the page that goes with its files.

#[allow(clippy::module_inception)] // What the module is named for.
mod lesson;
mod page;
mod read;
mod values;

pub use crate::text::Placed;
pub use lesson::{Lesson, LessonItem};
pub use page::{ChartSection, LessonPage, PageItem, Practice, Track, page};
pub use read::{LESSON_ITEM, read_lesson};
