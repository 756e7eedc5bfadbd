//! Pass marks on disk: a small file a song, in the user's data folder.

use std::fs::{self, File, TryLockError};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

use chrono::Datelike;
use etcetera::BaseStrategy;
use etcetera::base_strategy::choose_native_strategy;

use crate::practice::{Change, Day, Marks, file_name};
use crate::sink::write_whole;

/// Far more than the marks of any song take.
const MOST_BYTES: u64 = 1 << 20;

/// How long another openchair may hold the marks: it writes a few kilobytes.
const PATIENCE: Duration = Duration::from_secs(2);

/// Where the marks of one song are kept.
#[derive(Debug)]
pub(in crate::cli) struct MarksFile {
    /// `None` if the user has no folder for it.
    path: Option<PathBuf>,
    title: String,
    /// True once it was said that marks can't be kept.
    said: bool,
}

/// What reading a file gave.
enum Found {
    Marks(Marks),
    Nothing,
    /// It can't be used, and why.
    Unusable(String),
}

impl MarksFile {
    /// The marks of the song of that title, and what the player should know: that a file was set aside,
    /// or that marks can't be kept. Practice goes on without.
    pub(in crate::cli) fn open(title: &str) -> (Self, Marks, Option<String>) {
        match choose_native_strategy() {
            Ok(folders) => {
                Self::open_in(&folders.data_dir().join("openchair").join("marks"), title)
            }
            Err(error) => {
                let file = Self { path: None, title: title.to_owned(), said: true };
                (file, Marks::new(title), Some(format!("marks are not kept: {error}")))
            }
        }
    }

    fn open_in(folder: &Path, title: &str) -> (Self, Marks, Option<String>) {
        let path = folder.join(format!("{}.json", file_name(title)));
        let mut file = Self { path: Some(path.clone()), title: title.to_owned(), said: false };
        match file.read(&path) {
            Ok(Found::Marks(marks)) => (file, marks, None),
            Ok(Found::Nothing) => (file, Marks::new(title), None),
            Ok(Found::Unusable(_)) => {
                let notice = file.with_lock(&path, |file| match file.read(&path)? {
                    Found::Unusable(why) => set_aside(&path, &why),
                    Found::Marks(_) | Found::Nothing => Ok(String::new()),
                });
                let notice = file.told(notice.map(|said| (!said.is_empty()).then_some(said)));
                (file, Marks::new(title), notice)
            }
            Err(error) => {
                let notice = file.told(Err(error));
                (file, Marks::new(title), notice)
            }
        }
    }

    /// A change was practised today, at last at `speed` percent; `learnt` if the player has called it
    /// so. Gives what the player should know, what is wrong only the first time.
    pub(in crate::cli) fn record(
        &mut self,
        marks: &mut Marks,
        change: &Change,
        speed: f64,
        learnt: bool,
    ) -> Option<String> {
        let Some(day) = today() else {
            return self.told(Err(io::Error::other("the computer's clock shows no day")));
        };
        self.update(marks, &|marks| {
            if learnt {
                marks.learnt(change, speed, day);
            } else {
                marks.practised(change, speed, day);
            }
        })
    }

    /// Changes the marks here and in the file, which another process may have changed meanwhile: what
    /// that wrote stays.
    fn update(&mut self, marks: &mut Marks, change: &dyn Fn(&mut Marks)) -> Option<String> {
        change(marks);
        let path = self.path.clone()?;
        let done = fs::create_dir_all(path.parent().unwrap_or(Path::new(""))).and_then(|()| {
            self.with_lock(&path, |file| {
                let mut said = None;
                match file.read(&path)? {
                    Found::Marks(mut others) => {
                        change(&mut others);
                        *marks = others;
                    }
                    Found::Nothing => {}
                    Found::Unusable(why) => said = Some(set_aside(&path, &why)?),
                }
                write_whole(&path, |out| out.write_all(marks.write().as_bytes()))?;
                Ok(said)
            })
        });
        self.told(done)
    }

    fn read(&self, path: &Path) -> io::Result<Found> {
        let file = match File::open(path) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Found::Nothing),
            Err(error) => return Err(error),
        };
        let mut bytes = Vec::new();
        file.take(MOST_BYTES + 1).read_to_end(&mut bytes)?;
        if bytes.len() as u64 > MOST_BYTES {
            return Ok(Found::Unusable("it is far too large".to_owned()));
        }
        let Ok(text) = String::from_utf8(bytes) else {
            return Ok(Found::Unusable("it is no text".to_owned()));
        };
        Ok(match Marks::read(&text, &self.title) {
            Ok(marks) => Found::Marks(marks),
            Err(error) => Found::Unusable(error.to_string()),
        })
    }

    /// Runs `act` while no other openchair changes marks. Where the system has no such locks, just so.
    fn with_lock<T>(&self, path: &Path, act: impl FnOnce(&Self) -> io::Result<T>) -> io::Result<T> {
        let lock = File::create(path.with_file_name(".lock"))?;
        let until = Instant::now() + PATIENCE;
        loop {
            match lock.try_lock() {
                Ok(()) | Err(TryLockError::Error(_)) => return act(self),
                Err(TryLockError::WouldBlock) if Instant::now() < until => {
                    thread::sleep(Duration::from_millis(5));
                }
                Err(TryLockError::WouldBlock) => {
                    return Err(io::Error::other("another openchair is writing them"));
                }
            }
        }
    }

    /// What to say of what was done. That it can't be done is said once.
    fn told(&mut self, done: io::Result<Option<String>>) -> Option<String> {
        match done {
            Ok(said) => said,
            Err(_) if self.said => None,
            Err(error) => {
                self.said = true;
                let path = self.path.as_deref().unwrap_or(Path::new("")).display();
                // First why: a narrow screen cuts the end off.
                Some(format!("marks are not kept: {error}, {path}"))
            }
        }
    }
}

/// Renames a file that can't be used, so that nothing is written over it; says so.
fn set_aside(path: &Path, why: &str) -> io::Result<String> {
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    for number in 1_u32.. {
        let aside = path.with_file_name(format!("{name}.set-aside-{number}"));
        if aside.symlink_metadata().is_ok() {
            continue;
        }
        fs::rename(path, &aside)?;
        return Ok(format!(
            "the marks in {} can't be used: {why}; set aside as {}",
            path.display(),
            aside.display()
        ));
    }
    Err(io::Error::other("too many files were set aside"))
}

/// Today where the player is.
fn today() -> Option<Day> {
    let date = chrono::Local::now().date_naive();
    let small = |number: u32| u8::try_from(number).ok();
    Day::new(u16::try_from(date.year()).ok()?, small(date.month())?, small(date.day())?)
}

#[cfg(test)]
mod tests {
    use tempfile::TempDir;

    use super::*;
    use crate::theory::Chord;

    const TITLE: &str = "Rope and Pulley";

    fn change(from: &str, to: &str) -> Change {
        Change { from: Chord::parse(from).unwrap(), to: Chord::parse(to).unwrap(), count: 0 }
    }

    fn open(folder: &TempDir) -> (MarksFile, Marks, Option<String>) {
        MarksFile::open_in(&folder.path().join("openchair/marks"), TITLE)
    }

    fn names(folder: &TempDir) -> Vec<String> {
        let files = fs::read_dir(folder.path().join("openchair/marks")).unwrap();
        let mut names: Vec<String> =
            files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
        names.retain(|name| name != ".lock");
        names.sort();
        names
    }

    #[test]
    fn marks_are_there_the_next_day() {
        let folder = TempDir::new().unwrap();
        let (mut file, mut marks, notice) = open(&folder);
        assert_eq!(notice, None);
        assert!(!folder.path().join("openchair").exists(), "looking makes no folder");
        assert_eq!(file.record(&mut marks, &change("G", "C"), 72.0, false), None);
        assert_eq!(file.record(&mut marks, &change("C", "D"), 100.0, true), None);
        assert_eq!(names(&folder).len(), 1, "no temporary stays");
        let (_, again, _) = open(&folder);
        assert_eq!(again, marks);
        assert_eq!(again.of(&change("G", "C")).reached, Some(72.0));
        assert_eq!(again.of(&change("C", "D")).practised, today());
    }

    #[test]
    fn two_at_once_lose_nothing() {
        let folder = TempDir::new().unwrap();
        let roots = ["C", "D", "E", "F", "G", "A", "B", "Bb"];
        thread::scope(|scope| {
            for from in roots {
                let folder = &folder;
                scope.spawn(move || {
                    let (mut file, mut marks, _) = open(folder);
                    for to in roots {
                        let said = file.record(&mut marks, &change(from, to), 72.0, true);
                        assert_eq!(said, None);
                    }
                });
            }
        });
        let (_, marks, _) = open(&folder);
        for (from, to) in roots.into_iter().flat_map(|from| roots.map(|to| (from, to))) {
            assert_eq!(marks.of(&change(from, to)).learnt, Some(72.0), "{from} {to}");
        }
    }

    #[test]
    fn what_cannot_be_used_is_set_aside_and_never_written_over() {
        let folder = TempDir::new().unwrap();
        let (mut file, mut marks, _) = open(&folder);
        file.record(&mut marks, &change("G", "C"), 72.0, true);
        let name = names(&folder).remove(0);
        let path = folder.path().join("openchair/marks").join(&name);
        let newer = r#"{"version": 7}"#;
        for (number, text) in [(1, "{"), (2, newer), (3, "\u{FEFF}")] {
            fs::write(&path, text).unwrap();
            let (_, fresh, notice) = open(&folder);
            assert_eq!(fresh, Marks::new(TITLE));
            let (notice, aside) = (notice.unwrap(), format!("{name}.set-aside-{number}"));
            assert!(notice.contains(&aside), "{notice}");
            assert_eq!(fs::read_to_string(path.with_file_name(aside)).unwrap(), text);
            assert!(!path.exists());
        }
        // Also if it turns bad while playing: the marks in hand are written anew.
        fs::write(&path, [0xFF, 0xFE]).unwrap();
        let notice = file.record(&mut marks, &change("C", "G"), 64.0, true).unwrap();
        assert!(notice.contains("set-aside-4") && notice.contains("no text"), "{notice}");
        let (_, again, _) = open(&folder);
        assert_eq!(again.of(&change("G", "C")).learnt, Some(72.0));
        assert_eq!(again.of(&change("C", "G")).learnt, Some(64.0));
    }

    #[test]
    fn where_nothing_can_be_written_practice_goes_on() {
        // A file where the folder belongs: also for a user whom no permission stops.
        let folder = TempDir::new().unwrap();
        fs::write(folder.path().join("openchair"), "in the way").unwrap();
        let (mut file, mut marks, first) = open(&folder);
        let second = file.record(&mut marks, &change("G", "C"), 72.0, true);
        let third = file.record(&mut marks, &change("C", "G"), 72.0, true);
        let said: Vec<String> = [first, second, third].into_iter().flatten().collect();
        assert_eq!(said.len(), 1, "{said:?}");
        assert!(said[0].starts_with("marks are not kept: "), "{said:?}");
        assert_eq!(marks.of(&change("C", "G")).learnt, Some(72.0), "in hand they are");
    }
}
