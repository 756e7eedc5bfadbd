use include_dir::{Dir, include_dir};

use super::file_name::{is_toml, stem};
use super::{NoText, SeenFrom, StyleShelf};
use crate::text::Source;

/// The styles and songs that come with the program, so that it needs no files beside it.
static STYLES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/backing-styles");
static SONGS: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/songs");

/// What comes with the program: the shelf of whoever has no files, as a browser.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Shipped;

impl Shipped {
    /// The names of the styles, in the order of the alphabet.
    pub fn styles() -> Vec<String> {
        names(&STYLES)
    }

    /// A style by its name.
    pub fn style(name: &str) -> Option<Source> {
        source(&STYLES, "backing-styles", name)
    }

    /// The names of the songs, in the order of the alphabet: those of their files, without the ending.
    pub fn songs() -> Vec<String> {
        names(&SONGS)
    }

    /// A song by its name.
    pub fn song(name: &str) -> Option<Source> {
        source(&SONGS, "songs", name)
    }
}

impl StyleShelf for Shipped {
    fn names(&self) -> Vec<String> {
        Self::styles()
    }

    fn named(&self, name: &str) -> Result<Source, NoText> {
        Self::style(name).ok_or_else(|| NoText::NoFile(name.to_owned()))
    }

    fn at(&self, path: &str, _: SeenFrom) -> Result<Source, NoText> {
        Err(NoText::NoFile(path.to_owned()))
    }
}

fn names(folder: &Dir<'_>) -> Vec<String> {
    let files = folder.files().filter(|file| is_toml(file.path()));
    let mut names: Vec<String> = files.map(|file| stem(file.path())).collect();
    names.sort();
    names
}

fn source(dir: &'static Dir<'_>, folder: &str, name: &str) -> Option<Source> {
    let file = dir.files().find(|file| is_toml(file.path()) && stem(file.path()) == name)?;
    Source::new(format!("{folder}/{name}.toml"), file.contents_utf8()?).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn songs_and_styles_are_found_by_their_names() {
        for name in Shipped::songs() {
            assert_eq!(Shipped::song(&name).unwrap().name, format!("songs/{name}.toml"));
        }
        for name in Shipped::styles() {
            assert_eq!(Shipped.named(&name).unwrap().name, format!("backing-styles/{name}.toml"));
        }
        assert!(Shipped::songs().len() > 10 && Shipped::styles().len() > 5);
        assert!(Shipped::song("README").is_none() && Shipped::song("first-week").is_none());
        assert!(Shipped.at("boom-chick.toml", SeenFrom::Song).is_err());
    }
}
