mod folder;
mod tracks;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::failure::{Failure, tell};
use super::files::{self, LessonShelf};
use super::interrupt::interruptible;
use crate::lesson::{LessonPage, page, read_lesson};
use crate::rehearsal::{Ready, lesson_ready, lesson_sheet, stem};
use crate::text::Problems;

use folder::LessonFolder;
use tracks::Tracks;

#[derive(Debug, clap::Args)]
pub(super) struct Lesson {
    /// The lesson's file
    pub lesson: PathBuf,
    /// The folder to write; without it, one of the lesson's name in the working folder
    #[arg(short, long, value_name = "FOLDER")]
    pub output: Option<PathBuf>,
    /// Write no sound files, only MIDI and the page
    #[arg(long)]
    pub midi_only: bool,
}

/// Writes a lesson as a folder: what to play to, and a page that leads through it.
pub(super) fn run(lesson: &Lesson) -> Result<ExitCode, Failure> {
    let (list, things) = read(&lesson.lesson)?;
    let output = lesson.output.clone().unwrap_or_else(|| PathBuf::from(stem(&lesson.lesson)));
    // Asked for before the work, which takes a while.
    let folder = LessonFolder::begin(&output)?;
    let (control, caught) = interruptible()?;
    let mut tracks = Tracks::new(&folder, !lesson.midi_only, &control);
    let mut items = Vec::new();
    for (number, thing) in (1..).zip(&things) {
        tell(format!("{number} of {}: {}", things.len(), thing.rehearsal.song().title));
        let (songs, drills) = tracks.write(number, thing).map_err(|why| why.by_signal(&caught))?;
        items.push(lesson_sheet(thing, songs, drills).map_err(Failure::failed)?);
    }
    let page = page(&LessonPage { title: list.title, notes: list.notes, items });
    let (files, bytes) = folder.finish(&page)?;
    tell(format!("{files} files, {}; open {}", size(bytes), output.join("index.html").display()));
    Ok(ExitCode::SUCCESS)
}

/// A lesson and all that it asks for.
fn read(path: &Path) -> Result<(crate::lesson::Lesson, Vec<Ready>), Failure> {
    let source = files::read(path)?;
    let mut problems = Problems::new();
    let lesson = read_lesson(&source, &mut problems);
    let things = lesson_ready(&LessonShelf::of_lesson(path), &lesson, &mut problems);
    if problems.is_empty() {
        Ok((lesson, things))
    } else {
        Err(Failure::Wrong(Box::new(source), problems))
    }
}

/// `84 MB`, `120 kB`.
fn size(bytes: u64) -> String {
    const KILO: u64 = 1_000;
    const MEGA: u64 = 1_000_000;
    if bytes >= MEGA {
        format!("{} MB", (bytes + MEGA / 2) / MEGA)
    } else {
        format!("{} kB", bytes.div_ceil(KILO))
    }
}
