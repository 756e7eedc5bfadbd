//! The songs of a page, each with the styles that do not come with the program.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Serialize;

use crate::cli::failure::Failure;
use crate::cli::files::find_song;
use crate::cli::rehearse::rehearsal;
use crate::rehearsal::{SeenFrom, Shipped, StyleShelf, Wishes, is_toml, stem};

/// A song of the page, as its scripts read it.
#[derive(Debug, Serialize)]
pub(super) struct Entry {
    /// The name of its file, without the ending.
    name: String,
    title: String,
    /// Its text.
    song: String,
    /// By the name or the path that the song gives.
    styles: BTreeMap<String, String>,
}

/// A song that is asked for.
///
/// # Errors
/// It can't be read, or can't be played: a page whose band does not play is not written.
pub(super) fn entry(path: &Path) -> Result<Entry, Failure> {
    let rehearsed = rehearsal(path, Wishes::default())?;
    rehearsed.perform(rehearsed.arrangement()?).map_err(Failure::failed)?;
    let (source, shelf) = find_song(path).map_err(Failure::Failed)?;
    let song = rehearsed.song();
    let style = &song.style;
    let found = if is_toml(Path::new(style)) {
        shelf.at(style, SeenFrom::Song)
    } else {
        shelf.named(style)
    };
    let found = found.map_err(Failure::failed)?;
    let same = Shipped::style(style).is_some_and(|shipped| shipped.text == found.text);
    let styles = if same { BTreeMap::new() } else { BTreeMap::from([(style.clone(), found.text)]) };
    let name = stem(Path::new(&source.name));
    Ok(Entry { name, title: song.title.clone(), song: source.text, styles })
}

/// All songs that come with the program.
pub(super) fn shipped() -> Result<Vec<Entry>, Failure> {
    Shipped::songs().iter().map(|name| entry(Path::new(name))).collect()
}
