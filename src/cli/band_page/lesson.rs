use std::path::Path;

use super::book::of_lesson;
use super::document::document;
use crate::cli::failure::Failure;
use crate::lesson::{LessonPage, sheet};
use crate::rehearsal::Ready;

/// The page of the lesson at a path: the band with the things that it has to practise, and its sheet, which tells of
/// the same things in the same order.
///
/// # Errors
/// A song or a style can't be read any more.
pub(in crate::cli) fn lesson_page(
    path: &Path,
    things: &[Ready],
    told: &LessonPage,
) -> Result<String, Failure> {
    let entries = (1..)
        .zip(things)
        .zip(&told.items)
        .map(|((number, ready), item)| of_lesson(path, number, ready, item.part.as_deref()));
    let entries: Vec<_> = entries.collect::<Result<_, _>>()?;
    document(&entries, Some(&sheet(told)))
}
