//! The page that is served.

use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::answer::Served;
use crate::cli::band_page::{self, page_of};
use crate::cli::chart::{ChartLook, sheet};
use crate::cli::failure::Failure;
use crate::cli::files::{self, LessonShelf};
use crate::cli::lesson::without_files;
use crate::lesson::{LESSON_ITEM, read_lesson};
use crate::printed::{html, lay_out};
use crate::rehearsal::{Shipped, Wishes, is_toml, lesson_ready};
use crate::text::{Problems, Source, inert, parse_toml};

/// The largest file that is served: a page of the band with a lesson's sound in it is less.
const MOST_BYTES: u64 = 64 * 1024 * 1024;

/// One page of what is named: a page from a file, a lesson's, or that of songs, of all that come with the program where
/// none is named: the band with them, or their charts.
pub(super) fn served(
    things: &[PathBuf],
    charts_alone: bool,
    look: &ChartLook,
) -> Result<Served, Failure> {
    match things {
        [one] if is_html(one) => return from_file(one),
        [one] => {
            if let Some(source) = lesson(one)? {
                return lesson_page(one, &source);
            }
        }
        more => {
            for thing in more {
                if is_html(thing) || lesson(thing)?.is_some() {
                    return Err(Failure::Usage(format!(
                        "{}: a lesson or a page is served by itself; name songs beside songs alone",
                        thing.display()
                    )));
                }
            }
        }
    }
    if charts_alone { charts(things, look) } else { band(things) }
}

/// The band, with these songs to play.
fn band(songs: &[PathBuf]) -> Result<Served, Failure> {
    let title = match songs {
        [one] => format!("the band with {}", inert(&one.to_string_lossy())),
        [] => "the band with all songs".to_owned(),
        more => format!("the band with {} songs", more.len()),
    };
    Ok(Served { title, bytes: page_of(songs)?.into_bytes(), runs: true })
}

fn is_html(path: &Path) -> bool {
    let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    matches!(ending.as_str(), "html" | "htm")
}

/// A page of the player's own, as it is.
fn from_file(path: &Path) -> Result<Served, Failure> {
    let failed =
        |error: io::Error| Failure::failed(format!("can't read {}: {error}", path.display()));
    let file = files::open(path).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => Failure::failed(format!("there is no file {}", path.display())),
        _ => failed(error),
    })?;
    if !file.metadata().map_err(failed)?.is_file() {
        return Err(Failure::failed(format!("{} is no file", path.display())));
    }
    let mut bytes = Vec::new();
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(failed)?;
    if bytes.len() as u64 > MOST_BYTES {
        let most = MOST_BYTES / (1024 * 1024);
        return Err(Failure::failed(format!("{} is larger than {most} MB", path.display())));
    }
    let title = path.file_name().unwrap_or_default().to_string_lossy();
    Ok(Served { title: inert(&title).into_owned(), bytes, runs: true })
}

/// The text of a file that is a lesson.
fn lesson(path: &Path) -> Result<Option<Source>, Failure> {
    if !is_toml(path) {
        return Ok(None);
    }
    let source = files::read(path)?;
    let table = parse_toml(&source, &mut Problems::new());
    let is_lesson = !table.lacks(LESSON_ITEM) && table.lacks("form") && table.lacks("section");
    Ok(is_lesson.then_some(source))
}

/// A lesson's page.
fn lesson_page(path: &Path, source: &Source) -> Result<Served, Failure> {
    let mut problems = Problems::new();
    let list = read_lesson(source, &mut problems);
    let things = lesson_ready(&LessonShelf::of_lesson(path), &list, &mut problems);
    if !problems.is_empty() {
        return Err(Failure::Wrong(Box::new(source.clone()), problems));
    }
    let told = without_files(list, &things)?;
    let page = band_page::lesson_page(path, &things, &told)?;
    Ok(Served { title: told.title, bytes: page.into_bytes(), runs: true })
}

/// The charts of songs, one after the other.
fn charts(songs: &[PathBuf], look: &ChartLook) -> Result<Served, Failure> {
    let all: Vec<PathBuf> = Shipped::songs().into_iter().map(PathBuf::from).collect();
    let songs = if songs.is_empty() { &all } else { songs };
    let mut charts = Vec::new();
    for song in songs {
        let sheet = sheet(song, Wishes::default(), look)?;
        let pages = lay_out(&sheet, look.big);
        charts.push((sheet, pages));
    }
    let title = match charts.as_slice() {
        [(one, _)] => one.title.clone(),
        more => format!("{} charts", more.len()),
    };
    Ok(Served { bytes: html(&title, &charts, look.big).into_bytes(), title, runs: false })
}
