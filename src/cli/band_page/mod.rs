//! The band as one page for a browser: its engine, songs, styles and scripts in a single file.

mod book;
mod command;
mod document;
mod lesson;
mod letters;
mod scripts;

pub(super) use command::{BandPage, page_of, run};
pub(super) use lesson::lesson_page;
