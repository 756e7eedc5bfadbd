use std::fs;
use std::path::{Path, PathBuf};

use super::native::native;
use super::read::text;
use crate::rehearsal::{NoText, SeenFrom, Shipped, StyleShelf, is_toml, stem};
use crate::text::Source;

/// The folder that styles are kept in, beside the songs' folder or the working one.
const FOLDER: &str = "backing-styles";

/// Styles where people keep them: in folders beside a song and in the working one, else in the program.
#[derive(Clone, Debug)]
pub(in crate::cli) struct FileShelf {
    /// The song's file.
    song: PathBuf,
    /// The folder from which others see the paths of styles.
    asker: PathBuf,
}

impl FileShelf {
    /// For a song that is asked for on the command line.
    pub(in crate::cli) fn of_song(song: &Path) -> Self {
        Self { song: song.to_owned(), asker: PathBuf::new() }
    }

    /// The same for somebody who sees the paths of styles from another folder.
    pub(super) fn seen_from(self, asker: &Path) -> Self {
        Self { asker: asker.to_owned(), ..self }
    }

    /// All style files within reach, by name; the nearest of each name.
    fn files(&self) -> Vec<(String, PathBuf)> {
        let folder = folder_of(&self.song);
        let mut found: Vec<(String, PathBuf)> = Vec::new();
        for place in [folder.join(FOLDER), folder.join("..").join(FOLDER), PathBuf::from(FOLDER)] {
            let Ok(entries) = fs::read_dir(native(place)) else { continue };
            for path in entries.flatten().map(|entry| entry.path()).filter(|path| is_toml(path)) {
                let name = stem(&path);
                if found.iter().all(|(other, _)| *other != name) {
                    found.push((name, path));
                }
            }
        }
        found
    }
}

impl StyleShelf for FileShelf {
    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = self.files().into_iter().map(|(name, _)| name).collect();
        names.extend(Shipped::styles());
        names.sort();
        names.dedup();
        names
    }

    fn named(&self, name: &str) -> Result<Source, NoText> {
        match self.files().into_iter().find(|(other, _)| other == name) {
            Some((_, path)) => text(&path).map_err(NoText::Unreadable),
            None => Shipped.named(name),
        }
    }

    fn at(&self, path: &str, from: SeenFrom) -> Result<Source, NoText> {
        let base = match from {
            SeenFrom::Song => folder_of(&self.song),
            SeenFrom::Asker => &self.asker,
        };
        let place = native(base.join(path));
        if place.is_file() {
            text(&place).map_err(NoText::Unreadable)
        } else {
            Err(NoText::NoFile(place.display().to_string()))
        }
    }
}

pub(super) fn folder_of(file: &Path) -> &Path {
    file.parent().unwrap_or(Path::new(""))
}
