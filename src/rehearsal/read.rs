use std::borrow::Borrow;

use super::find_style::{Found, find, fitting, style_for, unfit};
use super::{NoStyle, SeenFrom, StyleError, StyleShelf, StylesRead, WrongStyle};
use crate::chart::{Song, read_song_and_header};
use crate::style::Style;
use crate::text::{Problems, Source};

/// Why a text is no song to be rehearsed.
#[derive(Clone, Debug)]
pub enum NotRead {
    /// The song has mistakes, which are these.
    Song(Problems),
    /// The style that it names has.
    Style(WrongStyle),
    /// The style that is wished for in place of it can't be had.
    Wished(StyleError),
}

/// A song, and the style that it is to be played in: the one that is wished for, or its own.
///
/// # Errors
/// [`NotRead`].
pub fn read_song_and_style(
    source: &Source,
    wished: Option<&str>,
    shelf: &impl StyleShelf,
) -> Result<(Song, Style), NotRead> {
    let mut problems = Problems::new();
    let read = read_with_own_style(source, shelf, &mut problems).map_err(NotRead::Style)?;
    let Some((song, own)) = read else { return Err(NotRead::Song(problems)) };
    let style = match wished {
        None => own,
        Some(wanted) => {
            style_for(wanted, SeenFrom::Asker, shelf, song.meter).map_err(NotRead::Wished)?
        }
    };
    Ok((song, style))
}

/// Reads a song and sees whether its style is there, sound, and plays its meter, also where the rest of
/// the song is wrong. Problems of the song go to `problems`.
///
/// # Errors
/// Only where its style's own text is wrong, which is a problem of the song as well, and the song has
/// no other.
pub fn read_with_own_style(
    source: &Source,
    shelf: &impl StyleShelf,
    problems: &mut Problems,
) -> Result<Option<(Song, Style)>, WrongStyle> {
    own_style(source, shelf, problems, Found::style)
}

/// The same for one song of many, where nothing is to be played: each style is read once.
///
/// # Errors
/// As [`read_with_own_style`].
pub fn check_with_own_style(
    source: &Source,
    shelf: &impl StyleShelf,
    styles: &mut StylesRead,
    problems: &mut Problems,
) -> Result<(), WrongStyle> {
    own_style(source, shelf, problems, |found| styles.style(found)).map(|_| ())
}

fn own_style<S: Borrow<Style>>(
    source: &Source,
    shelf: &impl StyleShelf,
    problems: &mut Problems,
    read: impl FnOnce(Found) -> Result<S, StyleError>,
) -> Result<Option<(Song, S)>, WrongStyle> {
    let (song, header) = read_song_and_header(source, problems);
    let Some((wanted, place)) = header.style else { return Ok(None) };
    let found = match find(&wanted, SeenFrom::Song, shelf) {
        Ok(found) => found,
        Err(NoStyle { message, help }) => {
            problems.add(place, message, help);
            return Ok(None);
        }
    };
    let name = found.name.clone();
    let style = match read(found) {
        Ok(style) => style,
        Err(StyleError::Wrong(wrong)) => {
            problems.add(
                place,
                format!("the backing style `{name}` has mistakes"),
                format!("mend {}, or name another style", wrong.source.name),
            );
            // A song with mistakes of its own is shown with them, and says which style to mend.
            return if song.is_some() { Err(wrong) } else { Ok(None) };
        }
        Err(StyleError::Unreadable(why)) => {
            problems.add(place, why, "mend that file, or name another style");
            return Ok(None);
        }
        Err(StyleError::No(NoStyle { message, help })) => {
            problems.add(place, message, help);
            return Ok(None);
        }
    };
    if let Some(meter) = header.meter.filter(|meter| !style.borrow().fits(*meter)) {
        let help = format!("{}, or change the meter", fitting(shelf, meter));
        problems.add(place, unfit(style.borrow(), meter), help);
        return Ok(None);
    }
    Ok(song.map(|(song, _)| (song, style)))
}
