use std::path::Path;

use super::file_name::{is_toml, stem};
use super::{NoText, SeenFrom, StyleShelf};
use crate::style::{Style, read_style};
use crate::text::{Problems, Source, list, nearest};
use crate::time::Meter;

/// A style that cannot be found or does not fit.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}; {help}")]
pub struct NoStyle {
    /// Why.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

/// A style whose own text has mistakes.
#[derive(Clone, Debug)]
pub struct WrongStyle {
    /// The text.
    pub source: Box<Source>,
    /// What is wrong with it.
    pub problems: Problems,
}

/// Why a style can't be had.
#[derive(Clone, Debug)]
pub enum StyleError {
    /// There is none of that name, or it does not play the meter.
    No(NoStyle),
    /// Its text can't be read; why, in words.
    Unreadable(String),
    /// Its text has mistakes.
    Wrong(WrongStyle),
}

/// A style that was found and not read yet.
pub(super) struct Found {
    /// Its name.
    pub name: String,
    source: Result<Source, String>,
}

impl Found {
    fn new(name: String, source: Result<Source, NoText>) -> Self {
        Self { name, source: source.map_err(|why| why.to_string()) }
    }

    /// What it is read from, if that can be had.
    pub(super) fn text(&self) -> Option<&str> {
        self.source.as_ref().ok().map(|source| source.text.as_str())
    }

    /// Reads it.
    pub(super) fn style(self) -> Result<Style, StyleError> {
        let source = self.source.map_err(StyleError::Unreadable)?;
        let mut problems = Problems::new();
        let style = read_style(&self.name, &source, &mut problems);
        style.ok_or_else(|| StyleError::Wrong(WrongStyle { source: Box::new(source), problems }))
    }
}

/// A style by name or by path.
pub(super) fn find(
    wanted: &str,
    from: SeenFrom,
    shelf: &impl StyleShelf,
) -> Result<Found, NoStyle> {
    let path = Path::new(wanted);
    if is_toml(path) {
        return match shelf.at(wanted, from) {
            Err(NoText::NoFile(place)) => {
                let name = stem(path);
                let is_name = path.components().count() == 1 && shelf.names().contains(&name);
                Err(NoStyle {
                    message: format!("there is no style file {place}"),
                    help: if is_name {
                        format!("did you mean the style `{name}`?")
                    } else {
                        "write the path of a style file, or a style's name".to_owned()
                    },
                })
            }
            source => Ok(Found::new(stem(path), source)),
        };
    }
    // Nothing else is opened: what is wrong in a style's file is shown with its lines.
    if path.components().count() > 1 {
        return Err(NoStyle {
            message: format!("`{wanted}` is no style file: its name does not end in .toml"),
            help: "write the path of a style file, or a style's name".to_owned(),
        });
    }
    let names = shelf.names();
    if names.iter().any(|name| name == wanted) {
        return Ok(Found::new(wanted.to_owned(), shelf.named(wanted)));
    }
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    Err(NoStyle {
        message: format!("there is no backing style `{wanted}`"),
        help: match nearest(wanted, names.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("there are {}", list(&names, "and")),
        },
    })
}

/// A style in place of a song's own, for a song in that meter.
pub(super) fn style_for(
    wanted: &str,
    from: SeenFrom,
    shelf: &impl StyleShelf,
    meter: Meter,
) -> Result<Style, StyleError> {
    let style = find(wanted, from, shelf).map_err(StyleError::No)?.style()?;
    if style.fits(meter) {
        return Ok(style);
    }
    let help = fitting(shelf, meter);
    Err(StyleError::No(NoStyle { message: unfit(&style, meter), help }))
}

/// That a style does not play a song's meter.
pub(super) fn unfit(style: &Style, meter: Meter) -> String {
    let plays: Vec<&str> = style.meters.iter().map(|meter| meter.as_str()).collect();
    format!("{} plays {}, and the song is in {meter}", style.name, list(&plays, "and"))
}

/// Which styles play a meter, as a piece of advice.
pub(super) fn fitting(shelf: &impl StyleShelf, meter: Meter) -> String {
    let fits = |name: &String| {
        let found = Found::new(name.clone(), shelf.named(name));
        found.style().is_ok_and(|style| style.fits(meter))
    };
    let names: Vec<String> =
        shelf.names().into_iter().filter(fits).map(|name| format!("`{name}`")).collect();
    match names.as_slice() {
        [] => format!("write a style that plays {meter}"),
        names => format!(
            "write {}, which {} {meter}",
            list(names, "or"),
            if names.len() == 1 { "plays" } else { "play" }
        ),
    }
}
