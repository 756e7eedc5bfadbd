//! The songs of a page, each with the styles that do not come with the program; of a lesson, with what it asks for.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Serialize;

use crate::cli::failure::Failure;
use crate::cli::files::{LessonShelf, find_song};
use crate::cli::rehearse::rehearsal;
use crate::rehearsal::{
    NoText, Ready, SeenFrom, Shipped, SongShelf, StyleShelf, Wishes, is_toml, stem,
};

/// A song of the page, as its scripts read it.
#[derive(Debug, Serialize)]
pub(in crate::cli) struct Entry {
    /// The name of its file, without the ending.
    name: String,
    title: String,
    /// Its text.
    song: String,
    /// By the name or the path that the song gives.
    styles: BTreeMap<String, String>,
    /// What a lesson asks for, in the words of the engine's wishes.
    #[serde(skip_serializing_if = "Option::is_none")]
    wish: Option<serde_json::Value>,
    /// What a lesson has of it to practise.
    #[serde(skip_serializing_if = "Option::is_none")]
    practise: Option<Practise>,
}

/// What there is to practise of a song.
#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
struct Practise {
    /// In percent.
    speeds: Vec<f64>,
    /// The level of the banjo's part.
    level: &'static str,
    /// True if that is to be heard too.
    banjo: bool,
    /// Changes to drill, by the words that ask for them and by their names.
    changes: Vec<(String, String)>,
    change_bars: u32,
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
    let mut styles = BTreeMap::new();
    add_style(&mut styles, &shelf, &song.style, SeenFrom::Song).map_err(Failure::failed)?;
    let name = stem(Path::new(&source.name));
    let title = song.title.clone();
    Ok(Entry { name, title, song: source.text, styles, wish: None, practise: None })
}

/// Adds a style by the name or the path that is written, unless it comes with the program.
fn add_style(
    styles: &mut BTreeMap<String, String>,
    shelf: &impl StyleShelf,
    style: &str,
    from: SeenFrom,
) -> Result<(), NoText> {
    let found = if is_toml(Path::new(style)) { shelf.at(style, from) } else { shelf.named(style) }?;
    let same = Shipped::style(style).is_some_and(|shipped| shipped.text == found.text);
    if !same {
        styles.insert(style.to_owned(), found.text);
    }
    Ok(())
}

/// All songs that come with the program.
pub(super) fn shipped() -> Result<Vec<Entry>, Failure> {
    Shipped::songs().iter().map(|name| entry(Path::new(name))).collect()
}

/// A thing to practise of the lesson at a path. `part` is what of the song it is, in words.
pub(super) fn of_lesson(
    lesson: &Path,
    number: usize,
    ready: &Ready,
    part: Option<&str>,
) -> Result<Entry, Failure> {
    let item = &ready.item;
    let (source, shelf) =
        LessonShelf::of_lesson(lesson).song(&item.song.value).map_err(Failure::failed)?;
    let song = ready.rehearsal.song();
    let mut styles = BTreeMap::new();
    add_style(&mut styles, &shelf, &song.style, SeenFrom::Song).map_err(Failure::failed)?;
    if let Some(style) = &item.style {
        add_style(&mut styles, &shelf, &style.value, SeenFrom::Asker).map_err(Failure::failed)?;
    }
    let words = |roles: &crate::chart::RoleSet| -> Vec<&str> {
        roles.iter().map(|role| role.as_str()).collect()
    };
    let wish = serde_json::json!({
        "key": item.key.as_ref().map(|key| key.value.to_string()),
        "style": item.style.as_ref().map(|style| &style.value),
        "band": item.band.as_ref().map(words).unwrap_or_default(),
        "sitOut": item.sit_out.iter().map(|rule| rule.value.to_string()).collect::<Vec<_>>(),
        "bars": item.stretch.as_ref().map(|stretch| stretch.value.to_string()),
        "countIn": item.count_in,
    });
    let practise = Practise {
        speeds: item.speeds.clone(),
        level: item.level.as_str(),
        banjo: item.with_banjo.is_some(),
        changes: ready
            .changes
            .iter()
            .map(|change| (format!("{}:{}", change.from, change.to), change.to_string()))
            .collect(),
        change_bars: item.change_bars,
    };
    let part = part.map_or_else(String::new, |part| format!(": {part}"));
    Ok(Entry {
        name: ready.stem.clone(),
        title: format!("{number} {}{part}", song.title),
        song: source.text,
        styles,
        wish: Some(wish),
        practise: Some(practise),
    })
}
