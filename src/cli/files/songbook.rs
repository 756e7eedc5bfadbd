//! Songs by their names: the user's own, then those that come with the program.

use std::fs;
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;
use etcetera::base_strategy::choose_native_strategy;

use super::read::text;
use super::shelf::FileShelf;
use crate::rehearsal::{Shipped, is_toml, song_name, stem};
use crate::text::{Source, nearest};

/// The user's own songs: the files of a folder in their data folder.
#[derive(Clone, Debug)]
pub(in crate::cli) struct OwnSongs {
    /// `None` if the system has no such folder for the user.
    folder: Option<PathBuf>,
}

impl OwnSongs {
    /// In `~/.local/share/openchair/songs` or what `XDG_DATA_HOME` says, on macOS and Windows where programs
    /// keep a user's data.
    pub(in crate::cli) fn of_user() -> Self {
        let folders = choose_native_strategy().ok();
        Self { folder: folders.map(|folders| folders.data_dir().join("openchair").join("songs")) }
    }

    /// Where they are kept.
    pub(in crate::cli) fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }

    /// Their files, by name, in the order of the alphabet.
    pub(in crate::cli) fn files(&self) -> Vec<(String, PathBuf)> {
        let entries = self.folder.as_deref().and_then(|folder| fs::read_dir(folder).ok());
        let paths = entries.into_iter().flatten().flatten().map(|entry| entry.path());
        let mut files: Vec<(String, PathBuf)> =
            paths.filter(|path| is_toml(path)).map(|path| (stem(&path), path)).collect();
        files.sort();
        files
    }

    fn find(&self, name: &str) -> Option<PathBuf> {
        self.files().into_iter().find(|(other, _)| song_name(other) == name).map(|(_, path)| path)
    }
}

/// The text of a song, and where styles for it are found: a file, or else the song of that name.
///
/// # Errors
/// In words, with what to write instead.
pub(in crate::cli) fn find_song(wanted: &Path) -> Result<(Source, FileShelf), String> {
    match name_in(wanted) {
        Some(name) => {
            named(&name, &OwnSongs::of_user()).map_err(|why| beside(wanted).unwrap_or(why))
        }
        None => Ok((text(wanted)?, FileShelf::of_song(wanted))),
    }
}

/// The name that is asked for; `None` where it is a file or can be nothing else.
fn name_in(wanted: &Path) -> Option<String> {
    let written = wanted.to_str()?;
    let path_alone = is_toml(wanted) || written.contains(['/', '\\']) || written.is_empty();
    (!path_alone && !wanted.exists()).then(|| song_name(written))
}

fn named(name: &str, own: &OwnSongs) -> Result<(Source, FileShelf), String> {
    if let Some(path) = own.find(name) {
        return Ok((text(&path)?, FileShelf::of_song(&path)));
    }
    if let Some(source) = Shipped::song(name) {
        // Its styles are the program's, unless the working folder has one of that name.
        return Ok((source, FileShelf::of_song(Path::new(name))));
    }
    let mut all = Shipped::songs();
    all.extend(own.files().into_iter().map(|(name, _)| name));
    Err(match nearest(name, all.iter().map(String::as_str)) {
        Some(near) => format!("there is no file or song `{name}`; did you mean `{near}`?"),
        None => {
            format!("there is no file or song `{name}`; `openchair songs` lists the songs at hand")
        }
    })
}

/// What to write, where a file of that name needs its ending alone.
fn beside(wanted: &Path) -> Option<String> {
    let name = wanted.to_str()?;
    let file = format!("{name}.toml");
    let there = Path::new(&file).is_file();
    there.then(|| format!("there is no song `{name}`, but a file here: write `{file}`"))
}

#[cfg(test)]
mod tests {
    use tempfile::TempDir;

    use super::*;

    #[test]
    fn a_name_is_no_path() {
        assert_eq!(name_in(Path::new("One Plank Short")).as_deref(), Some("one-plank-short"));
        for path in ["one-plank-short.toml", "songs/one-plank-short", "./x", "src", ""] {
            assert_eq!(name_in(Path::new(path)), None, "{path}");
        }
    }

    #[test]
    fn the_users_own_song_comes_before_the_programs() {
        let folder = TempDir::new().unwrap();
        let own = OwnSongs { folder: Some(folder.path().to_owned()) };
        let (shipped, _) = named("one-plank-short", &own).unwrap();
        assert_eq!(shipped.name, "songs/one-plank-short.toml");
        fs::write(folder.path().join("One Plank Short.toml"), "title = \"Mine\"\n").unwrap();
        let (mine, _) = named("one-plank-short", &own).unwrap();
        assert_eq!(mine.text, "title = \"Mine\"\n");
    }

    #[test]
    fn a_name_that_is_not_there_says_which_is() {
        let own = OwnSongs { folder: None };
        let why = named("lantern-on-the-landin", &own).unwrap_err();
        assert_eq!(
            why,
            "there is no file or song `lantern-on-the-landin`; did you mean `lantern-on-the-landing`?"
        );
        let why = named("zzz", &own).unwrap_err();
        assert!(why.contains("`openchair songs` lists"), "{why}");
    }

    #[test]
    fn a_file_whose_ending_is_left_out_is_named() {
        let folder = TempDir::new().unwrap();
        let name = folder.path().join("ferry");
        assert_eq!(beside(&name), None);
        fs::write(name.with_extension("toml"), "").unwrap();
        let why = beside(&name).unwrap();
        assert!(why.ends_with("ferry.toml`"), "{why}");
    }
}
