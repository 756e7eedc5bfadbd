//! Songs and styles where people keep them.

use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use include_dir::{Dir, include_dir};

use super::failure::Failure;
use crate::chart::{Song, read_song_and_header};
use crate::style::{Style, read_style};
use crate::text::{Problems, Source, list, nearest};
use crate::time::Meter;

/// The styles that come with the program, so that it needs no files beside it.
static SHIPPED: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/backing-styles");

/// The folder that styles are kept in, beside the songs' folder or the working one.
const FOLDER: &str = "backing-styles";

/// Reads a file, refusing one that is too large before it takes memory.
pub(super) fn read(path: &Path) -> Result<Source, Failure> {
    let name = path.display().to_string();
    let failed = |error: io::Error| {
        Failure::failed(match error.kind() {
            io::ErrorKind::NotFound => format!("there is no file {name}"),
            _ => format!("can't read {name}: {error}"),
        })
    };
    let file = fs::File::open(path).map_err(failed)?;
    if file.metadata().map_err(failed)?.is_dir() {
        return Err(Failure::failed(format!("{name} is a folder; name a song file in it")));
    }
    let mut bytes = Vec::new();
    // One byte over the limit is enough to know, also where the size is not known beforehand.
    file.take(Source::MOST_BYTES + 1).read_to_end(&mut bytes).map_err(failed)?;
    let size = fs::metadata(path).map_or(0, |meta| meta.len()).max(bytes.len() as u64);
    if size > Source::MOST_BYTES {
        return Err(Failure::failed(crate::text::TooLarge { name, size }));
    }
    Source::of_bytes(name, bytes).map_err(Failure::failed)
}

/// A style and where it comes from.
#[derive(Clone, Debug)]
struct Found {
    name: String,
    place: Place,
}

#[derive(Clone, Debug)]
enum Place {
    File(PathBuf),
    Shipped(&'static str),
}

impl Found {
    fn source(&self) -> Result<Source, Failure> {
        match &self.place {
            Place::File(path) => read(path),
            Place::Shipped(text) => {
                let name = format!("{FOLDER}/{}.toml", self.name);
                Source::new(name, *text).map_err(Failure::failed)
            }
        }
    }

    fn style(&self) -> Result<Style, Failure> {
        let source = self.source()?;
        let mut problems = Problems::new();
        let style = read_style(&self.name, &source, &mut problems);
        style.ok_or_else(|| Failure::Wrong(Box::new(source), problems))
    }
}

/// All styles within reach, by name; the nearest of each name.
fn within_reach(song: &Path) -> Vec<Found> {
    let folder = song.parent().unwrap_or(Path::new(""));
    let mut found: Vec<Found> = Vec::new();
    let mut add = |name: String, place: Place| {
        if found.iter().all(|other| other.name != name) {
            found.push(Found { name, place });
        }
    };
    for place in [folder.join(FOLDER), folder.join("..").join(FOLDER), PathBuf::from(FOLDER)] {
        let Ok(entries) = fs::read_dir(place) else { continue };
        for path in entries.flatten().map(|entry| entry.path()).filter(|path| is_toml(path)) {
            add(stem(&path), Place::File(path));
        }
    }
    for file in SHIPPED.files().filter(|file| is_toml(file.path())) {
        if let Some(text) = file.contents_utf8() {
            add(stem(file.path()), Place::Shipped(text));
        }
    }
    found.sort_by(|a, b| a.name.cmp(&b.name));
    found
}

/// A style by name or by path. A path in a song counts from the song's folder.
fn find(wanted: &str, song: &Path, base: &Path) -> Result<Found, NoStyle> {
    let path = Path::new(wanted);
    if is_toml(path) {
        let place = base.join(path);
        if place.is_file() {
            return Ok(Found { name: stem(path), place: Place::File(place) });
        }
        let name = stem(path);
        if path.components().count() == 1 && within_reach(song).iter().any(|f| f.name == name) {
            return Err(NoStyle {
                message: format!("there is no style file {}", place.display()),
                help: format!("did you mean the style `{name}`?"),
            });
        }
        return Err(NoStyle {
            message: format!("there is no style file {}", place.display()),
            help: "write the path of a style file, or a style's name".to_owned(),
        });
    }
    // Nothing else is opened: what is wrong in a style's file is shown with its lines.
    if path.components().count() > 1 {
        return Err(NoStyle {
            message: format!("`{wanted}` is no style file: its name does not end in .toml"),
            help: "write the path of a style file, or a style's name".to_owned(),
        });
    }
    let all = within_reach(song);
    if let Some(found) = all.iter().find(|found| found.name == wanted) {
        return Ok(found.clone());
    }
    let names: Vec<&str> = all.iter().map(|found| found.name.as_str()).collect();
    Err(NoStyle {
        message: format!("there is no backing style `{wanted}`"),
        help: match nearest(wanted, names.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("there are {}", list(&names, "and")),
        },
    })
}

/// A style that cannot be found or does not fit.
pub(super) struct NoStyle {
    /// Why.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

/// Reads a song and checks that its style is there, sound, and plays its meter, also where the rest of
/// the song is wrong. Problems of the song go to `problems`.
///
/// # Errors
/// Only where its style's own file is wrong, which is a problem of the song as well, and the song has
/// no other.
pub(super) fn song(
    path: &Path,
    source: &Source,
    problems: &mut Problems,
) -> Result<Option<(Song, Style)>, Failure> {
    let (song, header) = read_song_and_header(source, problems);
    let Some((wanted, place)) = header.style else { return Ok(None) };
    let base = path.parent().unwrap_or(Path::new(""));
    let found = match find(&wanted, path, base) {
        Ok(found) => found,
        Err(NoStyle { message, help }) => {
            problems.add(place, message, help);
            return Ok(None);
        }
    };
    let style = match found.style() {
        Ok(style) => style,
        Err(Failure::Wrong(style, mistakes)) => {
            problems.add(
                place,
                format!("the backing style `{}` has mistakes", found.name),
                format!("mend {}, or name another style", style.name),
            );
            // A song with mistakes of its own is shown with them, and says which style to mend.
            return if song.is_some() { Err(Failure::Wrong(style, mistakes)) } else { Ok(None) };
        }
        Err(Failure::Failed(why) | Failure::Usage(why)) => {
            problems.add(place, why, "mend that file, or name another style");
            return Ok(None);
        }
    };
    if let Some(meter) = header.meter.filter(|meter| !style.fits(*meter)) {
        let plays: Vec<&str> = style.meters.iter().map(|meter| meter.as_str()).collect();
        problems.add(
            place,
            format!("{} plays {}, and the song is in {meter}", style.name, list(&plays, "and")),
            format!("{}, or change the meter", fitting(path, meter)),
        );
        return Ok(None);
    }
    Ok(song.map(|(song, _)| (song, style)))
}

/// Which styles play a meter, as a piece of advice.
fn fitting(song: &Path, meter: Meter) -> String {
    let names: Vec<String> = within_reach(song)
        .iter()
        .filter(|found| found.style().is_ok_and(|style| style.fits(meter)))
        .map(|found| format!("`{}`", found.name))
        .collect();
    match names.as_slice() {
        [] => format!("write a style that plays {meter}"),
        names => format!(
            "write {}, which {} {meter}",
            list(names, "or"),
            if names.len() == 1 { "plays" } else { "play" }
        ),
    }
}

/// The style that the command line asks for in place of the song's own.
///
/// # Errors
/// [`Failure::Usage`] where there is none or it does not play the song's meter.
pub(super) fn chosen_style(wanted: &str, path: &Path, song: &Song) -> Result<Style, Failure> {
    style_for(wanted, path, Path::new(""), song).map_err(|unfit| match unfit {
        Unfit::No(NoStyle { message, help }) => {
            Failure::Usage(format!("--style: {message}; {help}"))
        }
        Unfit::File(failure) => failure,
    })
}

/// Why a style cannot take the place of a song's own.
pub(super) enum Unfit {
    /// There is none of that name, or it does not play the song's meter.
    No(NoStyle),
    /// Its file is wrong.
    File(Failure),
}

/// A style by name, or by its path as seen from `base`, in place of the song's own.
pub(super) fn style_for(
    wanted: &str,
    path: &Path,
    base: &Path,
    song: &Song,
) -> Result<Style, Unfit> {
    let found = find(wanted, path, base).map_err(Unfit::No)?;
    let style = found.style().map_err(Unfit::File)?;
    if style.fits(song.meter) {
        return Ok(style);
    }
    let plays: Vec<&str> = style.meters.iter().map(|meter| meter.as_str()).collect();
    Err(Unfit::No(NoStyle {
        message: format!(
            "{} plays {}, and the song is in {}",
            style.name,
            list(&plays, "and"),
            song.meter
        ),
        help: fitting(path, song.meter),
    }))
}

/// True for a name that ends in `.toml`.
pub(super) fn is_toml(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("toml"))
}

/// The file's name without its ending.
pub(super) fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}
