mod folder;
mod tracks;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::band_page::lesson_page;
use super::failure::{Failure, tell};
use super::files::{self, LessonShelf, native, write_whole};
use super::interrupt::interruptible;
use crate::lesson::{LessonPage, Practice, read_lesson};
use crate::rehearsal::{Ready, lesson_ready, lesson_sheet, stem};
use crate::text::Problems;

use folder::LessonFolder;
use tracks::Tracks;

#[derive(Debug, clap::Args)]
pub(super) struct Lesson {
    /// The lesson's file
    pub lesson: PathBuf,
    /// The folder to write, or FILE.html for the page alone; without it, a folder of the lesson's name in the working
    /// folder
    #[arg(short, long, value_name = "FOLDER|FILE.html")]
    pub output: Option<PathBuf>,
    /// Write sound files as well, for a player without a browser
    #[arg(long, value_name = "KIND", value_enum)]
    pub sound: Option<SoundKind>,
}

/// How sound is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum SoundKind {
    /// WAV, of CD quality: 11 MB a minute
    Wav,
    /// FLAC, the same sound without loss: some 4 MB a minute
    Flac,
}

/// Writes a lesson: the page that plays it, and what is asked for as files.
pub(super) fn run(lesson: &Lesson) -> Result<ExitCode, Failure> {
    let (list, things) = read(&lesson.lesson)?;
    let output = lesson.output.clone().unwrap_or_else(|| PathBuf::from(stem(&lesson.lesson)));
    if is_page(&output) {
        if lesson.sound.is_some() {
            return Err(Failure::Usage(
                "--sound: a page alone holds no sound files; name a folder with -o".into(),
            ));
        }
        let told = without_files(list, &things)?;
        let page = lesson_page(&lesson.lesson, &things, &told)?;
        write_whole(&output, page.as_bytes())?;
        tell(format!("{}; open {}", size(page.len() as u64), output.display()));
        return Ok(ExitCode::SUCCESS);
    }
    // Asked for before the work, which takes a while.
    let folder = LessonFolder::begin(&output)?;
    let (control, caught) = interruptible()?;
    let mut tracks = Tracks::new(&folder, lesson.sound, &control);
    let mut items = Vec::new();
    for (number, thing) in (1..).zip(&things) {
        tell(format!("{number} of {}: {}", things.len(), thing.rehearsal.song().title));
        let (songs, drills) = tracks.write(number, thing).map_err(|why| why.by_signal(&caught))?;
        items.push(lesson_sheet(thing, songs, drills).map_err(Failure::failed)?);
    }
    let told = LessonPage { title: list.title, notes: list.notes, items };
    let page = lesson_page(&lesson.lesson, &things, &told)?;
    let (files, bytes) = folder.finish(&page)?;
    tell(format!(
        "{files} files, {}; open {}",
        size(bytes),
        native(output.join("index.html")).display()
    ));
    Ok(ExitCode::SUCCESS)
}

fn is_page(path: &Path) -> bool {
    let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    matches!(ending.as_str(), "html" | "htm")
}

/// What a lesson's page tells where there are no files beside it.
pub(super) fn without_files(
    list: crate::lesson::Lesson,
    things: &[Ready],
) -> Result<LessonPage, Failure> {
    let sheet = |thing| lesson_sheet(thing, Practice::default(), Vec::new());
    let items = things.iter().map(sheet).collect::<Result<_, _>>().map_err(Failure::failed)?;
    Ok(LessonPage { title: list.title, notes: list.notes, items })
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
