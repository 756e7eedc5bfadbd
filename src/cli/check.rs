use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use serde::Serialize;

use super::failure::{Failure, coloured};
use super::files::{FileShelf, LessonShelf, files_below, read, say_to_stdout, to_stdout};
use crate::backup::read_licks;
use crate::chart::{Role, read_song};
use crate::lesson::{LESSON_ITEM, read_lesson};
use crate::rehearsal::{StylesRead, check_with_own_style, is_toml, lesson_ready, stem};
use crate::style::read_style;
use crate::text::{Problems, Source, list, parse_toml, report, summary};

#[derive(Debug, clap::Args)]
pub(super) struct Check {
    /// Songs, styles, licks, lessons, or folders of them
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,
    /// Give the problems as JSON
    #[arg(long)]
    pub json: bool,
}

/// One problem as `--json` gives it.
#[derive(Debug, Serialize)]
struct Row {
    file: String,
    line: usize,
    column: usize,
    text: String,
    message: String,
    help: String,
}

/// Checks every file; the report is the result, so it goes to standard output.
pub(super) fn run(check: &Check) -> Result<ExitCode, Failure> {
    let mut files = Vec::new();
    for path in &check.paths {
        if path.is_dir() {
            let before = files.len();
            collect(path, &mut files)?;
            if files.len() == before {
                return Err(Failure::failed(format!(
                    "there are no songs, styles, licks or lessons in {}",
                    path.display()
                )));
            }
        } else {
            files.push(path.clone());
        }
    }
    let (mut count, mut checked, mut unread) = (0, 0, 0);
    let mut rows = Vec::new();
    let mut styles = StylesRead::default();
    for path in &files {
        let (source, problems) = match examined(path, &mut styles) {
            Ok(examined) => examined,
            Err(failure) => {
                failure.show();
                unread += 1;
                continue;
            }
        };
        checked += 1;
        let found = problems.in_order();
        count += found.len();
        if check.json {
            rows.extend(found.iter().map(|problem| {
                let (line, column) = source.position(problem.span.start);
                Row {
                    file: source.name.clone(),
                    line,
                    column,
                    text: source.text.get(problem.span.clone()).unwrap_or_default().to_owned(),
                    message: problem.message.clone(),
                    help: problem.help.clone(),
                }
            }));
        } else {
            to_stdout(report(&source, &problems, coloured(&io::stdout())).as_bytes())?;
            // Of a folder only what is wrong is told.
            if found.is_empty()
                && check.paths.contains(path)
                && let Some(words) = hint(&source)
            {
                say_to_stdout(&format!("{words}\n"))?;
            }
        }
    }
    let text = if check.json {
        serde_json::to_string_pretty(&rows).map_err(Failure::failed)?
    } else {
        sum(count, checked, unread)
    };
    say_to_stdout(&format!("{text}\n"))?;
    Ok(ExitCode::from(u8::from(count > 0 || unread > 0)))
}

/// What is no mistake in a song, but may not be what its writer expects.
fn hint(source: &Source) -> Option<String> {
    let (song, _) = match kind(source) {
        Some(Kind::Song) => read_song(source, &mut Problems::new())?,
        _ => return None,
    };
    let mut passes: Vec<String> =
        song.unheard_breaks().map(|pass| format!("`{}`", pass.label)).collect();
    passes.dedup();
    passes.truncate(MOST_NAMED);
    (!passes.is_empty()).then(|| {
        format!(
            "hint: {}: nobody plays the break in {}: put \"lead\" into `band`, and it is made up from the chords, or \
             leave it to a player of your own",
            source.name,
            list(&passes, "and")
        )
    })
}

/// So many passes are named; the rest is alike.
const MOST_NAMED: usize = 3;

/// The last line: of what could not be read nobody knows that it has no problems.
fn sum(problems: usize, checked: usize, unread: usize) -> String {
    let files = |n: usize| if n == 1 { "1 file".to_owned() } else { format!("{n} files") };
    let left = format!("{} could not be read", files(unread));
    match (problems, checked) {
        _ if unread == 0 => summary(problems, checked),
        (_, 0) => left,
        (0, _) => format!("{} checked; {left}", files(checked)),
        _ => format!("{}; {left}", summary(problems, checked)),
    }
}

/// A file and its problems.
///
/// # Errors
/// It, or the style that it names, cannot be read.
fn examined(path: &Path, styles: &mut StylesRead) -> Result<(Source, Problems), Failure> {
    let source = read(path)?;
    let mut problems = Problems::new();
    match kind(&source) {
        Some(Kind::Style) => {
            read_style(&stem(path), &source, &mut problems);
            return Ok((source, problems));
        }
        Some(Kind::Licks) => {
            read_licks(&source, &mut problems);
            return Ok((source, problems));
        }
        Some(Kind::Lesson) => {
            let lesson = read_lesson(&source, &mut problems);
            lesson_ready(&LessonShelf::of_lesson(path), &lesson, &mut problems);
            return Ok((source, problems));
        }
        Some(Kind::Song) | None => {}
    }
    // What is wrong in the style's own file is shown where that is checked.
    let _ = check_with_own_style(&source, &FileShelf::of_song(path), styles, &mut problems);
    Ok((source, problems))
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Song,
    Style,
    Lesson,
    Licks,
}

/// What a file is, by the keys that only one of them has.
fn kind(source: &Source) -> Option<Kind> {
    const SONG: [&str; 6] = ["title", "key", "meter", "form", "section", "style"];
    const STYLE: [&str; 3] = ["about", "meters", "feel"];
    let table = parse_toml(source, &mut Problems::new());
    if !table.lacks(LESSON_ITEM) && table.lacks("form") && table.lacks("section") {
        return Some(Kind::Lesson);
    }
    if !table.lacks("lick") && table.lacks("form") && table.lacks("section") {
        return Some(Kind::Licks);
    }
    let count = |keys: &[&str]| keys.iter().filter(|key| table.get(key).is_some()).count();
    match (count(&SONG), count(&STYLE) + count(&Role::words())) {
        (0, 0) => None,
        (song, style) if style > song => Some(Kind::Style),
        _ => Some(Kind::Song),
    }
}

/// All songs, styles, licks and lessons in a folder and those below it, by name. Other TOML files are none of ours,
/// nor are hidden folders. A file that cannot be read may be ours, and is not passed over.
fn collect(folder: &Path, files: &mut Vec<PathBuf>) -> Result<(), Failure> {
    let ours =
        |path: &Path| is_toml(path) && read(path).map_or(true, |source| kind(&source).is_some());
    files_below(folder, &ours, files)
}
