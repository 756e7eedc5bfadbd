//! The folder that a lesson is written to: whole, or not at all.

use std::collections::HashSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use crate::cli::failure::Failure;

/// The page of a lesson, by which a folder is known as one.
const INDEX: &str = "index.html";
/// What that page says of who wrote it.
const MADE_BY: &str = "<meta name=\"generator\" content=\"openchair\">";

/// A folder on its way: written under another name beside its place.
pub(super) struct LessonFolder {
    path: PathBuf,
    temporary: TempDir,
}

impl LessonFolder {
    /// Begins one that is to stand at `path`.
    ///
    /// # Errors
    /// Something stands there that is not a lesson written before, or holds files besides: these may be
    /// somebody's own. Or the folder above is not there, or can't be written to.
    pub(super) fn begin(path: &Path) -> Result<Self, Failure> {
        refuse_others(path)?;
        let mut builder = tempfile::Builder::new();
        builder.prefix(".openchair-");
        // As any program would create it: the user's mask takes away what it should.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o777));
        let temporary = builder.tempdir_in(beside(path)).map_err(|error| {
            Failure::failed(match error.kind() {
                io::ErrorKind::NotFound => format!(
                    "can't write {}: there is no such folder to put it in; make it first",
                    path.display()
                ),
                _ => format!("can't write {}: {error}", path.display()),
            })
        })?;
        Ok(Self { path: path.to_owned(), temporary })
    }

    /// Where a file of it is to be written for now.
    pub(super) fn file(&self, name: &str) -> PathBuf {
        self.temporary.path().join(name)
    }

    /// Writes its page, and puts all of it in its place. Gives how many files there are beside the page, and
    /// how many bytes.
    pub(super) fn finish(self, page: &str) -> Result<(usize, u64), Failure> {
        let failed = |error: io::Error| {
            Failure::failed(format!("can't write {}: {error}", self.path.display()))
        };
        fs::write(self.file(INDEX), page).map_err(failed)?;
        let (mut files, mut bytes) = (0, 0);
        for entry in fs::read_dir(self.temporary.path()).map_err(failed)? {
            files += 1;
            bytes += entry.and_then(|entry| entry.metadata()).map_err(failed)?.len();
        }
        // Somebody may have put a recording there meanwhile.
        refuse_others(&self.path)?;
        // What stands there goes with the folder that it is moved into.
        let old = tempfile::Builder::new()
            .prefix(".openchair-old-")
            .tempdir_in(beside(&self.path))
            .map_err(failed)?;
        let moved = old.path().join("lesson");
        let had_one = self.path.is_dir();
        if had_one {
            fs::rename(&self.path, &moved).map_err(failed)?;
        }
        let new = self.temporary.path();
        if let Err(error) = fs::rename(new, &self.path) {
            if had_one {
                fs::rename(&moved, &self.path).map_err(failed)?;
            }
            return Err(failed(error));
        }
        Ok((files - 1, bytes))
    }
}

/// The folder that `path` is in.
fn beside(path: &Path) -> &Path {
    path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Sees to it that nothing is lost: a folder is written over only if all in it is a lesson's.
fn refuse_others(path: &Path) -> Result<(), Failure> {
    let refused = |why: String| {
        let or = if why.contains("; ") { ", or" } else { ";" };
        Err(Failure::failed(format!("{} {why}{or} choose another folder with -o", path.display())))
    };
    let entries = match fs::read_dir(path) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(error) if error.kind() == io::ErrorKind::NotADirectory => {
            return refused("is a file, and a lesson is a folder".to_owned());
        }
        Err(error) => return refused(format!("can't be read: {error}")),
    };
    let mut names = Vec::new();
    for entry in entries {
        match entry {
            Ok(entry) => names.push(entry.file_name().to_string_lossy().into_owned()),
            Err(error) => return refused(format!("can't be read: {error}")),
        }
    }
    if names.is_empty() {
        return Ok(());
    }
    let page = fs::read_to_string(path.join(INDEX)).unwrap_or_default();
    if !page.contains(MADE_BY) {
        return refused("is there already and is no lesson that openchair wrote".to_owned());
    }
    let own = linked(&page);
    names.retain(|name| name != INDEX && !own.contains(name.as_str()));
    names.sort();
    match names.first() {
        None => Ok(()),
        Some(name) => refused(format!(
            "holds {name}, which is not the lesson's and would be lost; move it away"
        )),
    }
}

/// The files that a page leads to.
fn linked(page: &str) -> HashSet<&str> {
    let after =
        |mark: &'static str| page.split(mark).skip(1).filter_map(|rest| rest.split('"').next());
    after("href=\"").chain(after("src=\"")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page(link: &str) -> String {
        format!("<head>{MADE_BY}</head><a href=\"{link}\">x</a>")
    }

    #[test]
    fn a_lesson_takes_the_place_of_an_older_one_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("week");
        let write = |name: &str| {
            let lesson = LessonFolder::begin(&path)?;
            fs::write(lesson.file(name), name).unwrap();
            lesson.finish(&page(name))
        };
        assert_eq!(write("a.mid").unwrap().0, 1);
        assert_eq!(write("b.mid").unwrap().0, 1);
        assert!(!path.join("a.mid").exists() && path.join("b.mid").exists());
        fs::write(path.join("my-take.wav"), "mine").unwrap();
        let Err(Failure::Failed(why)) = write("c.mid") else { panic!("written over") };
        assert!(why.contains("holds my-take.wav"), "{why}");
        assert!(path.join("b.mid").exists() && path.join("my-take.wav").exists());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left behind");
    }

    #[test]
    fn what_is_no_lesson_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("photos");
        fs::create_dir(&path).unwrap();
        assert!(LessonFolder::begin(&path).is_ok(), "an empty folder is as good as none");
        fs::write(path.join("goat.png"), "x").unwrap();
        assert!(LessonFolder::begin(&path).is_err());
        assert!(LessonFolder::begin(&path.join("goat.png")).is_err());
        assert!(LessonFolder::begin(&folder.path().join("no/such")).is_err());
    }
}
