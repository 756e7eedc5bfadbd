//! Lessons: a teacher's list of what a student is to practise, and the sheet that a page has of it.

#[allow(clippy::module_inception)] // What the module is named for.
mod lesson;
mod read;
mod sheet;
mod values;

pub use crate::text::Placed;
pub use lesson::{Lesson, LessonItem};
pub use read::{LESSON_ITEM, read_lesson};
pub use sheet::{ChartSection, LessonPage, PageItem, Practice, Track, sheet};
