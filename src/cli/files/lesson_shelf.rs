use std::path::{Path, PathBuf};

use super::native::native;
use super::read::text;
use super::shelf::{FileShelf, folder_of};
use super::songbook::find_song;
use crate::rehearsal::{NoText, SongShelf, is_toml};
use crate::text::Source;

/// The songs of a lesson: in the lesson's folder, or by their names.
#[derive(Clone, Debug)]
pub(in crate::cli) struct LessonShelf {
    folder: PathBuf,
}

impl LessonShelf {
    /// For a lesson's file.
    pub(in crate::cli) fn of_lesson(lesson: &Path) -> Self {
        Self { folder: folder_of(lesson).to_owned() }
    }
}

impl SongShelf for LessonShelf {
    type Styles = FileShelf;

    fn song(&self, path: &str) -> Result<(Source, FileShelf), NoText> {
        let file = native(self.folder.join(path));
        let by_name = !is_toml(Path::new(path)) && !file.exists();
        let (source, shelf) = if by_name {
            find_song(Path::new(path)).map_err(NoText::Unreadable)?
        } else {
            (text(&file).map_err(NoText::Unreadable)?, FileShelf::of_song(&file))
        };
        Ok((source, shelf.seen_from(&self.folder)))
    }
}
