use thiserror::Error;

use crate::text::Source;

/// Who names a style by a path, and so where that path is seen from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SeenFrom {
    /// The song: from its folder.
    Song,
    /// Whoever asks for another style than the song's own: from where they are.
    Asker,
}

/// Why there is no text.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum NoText {
    /// There is none; the name of its place.
    #[error("there is no file {0}")]
    NoFile(String),
    /// It is there and can't be read; why, in words.
    #[error("{0}")]
    Unreadable(String),
}

/// Where styles are found for a song. A rehearsal asks for them and opens nothing itself.
pub trait StyleShelf {
    /// The names of all styles within reach, each once, in the order of the alphabet.
    fn names(&self) -> Vec<String>;

    /// The text of the style of a name that [`Self::names`] has.
    ///
    /// # Errors
    /// [`NoText`].
    fn named(&self, name: &str) -> Result<Source, NoText>;

    /// The text of the style's file at a path.
    ///
    /// # Errors
    /// [`NoText`].
    fn at(&self, path: &str, from: SeenFrom) -> Result<Source, NoText>;
}

/// Where the songs of a lesson are found.
pub trait SongShelf {
    /// Where the styles for its songs are found. What asks for another style is the lesson.
    type Styles: StyleShelf;

    /// The text of the song at a path as seen from the lesson, and the styles for it.
    ///
    /// # Errors
    /// [`NoText`].
    fn song(&self, path: &str) -> Result<(Source, Self::Styles), NoText>;
}
