//! Songs written as lead sheets.

use std::path::Path;

use super::failure::Failure;
use super::files::{FileShelf, find_song};
use crate::chart::Song;
use crate::interchange::{in_key, write_abc, write_musicxml};
use crate::rehearsal::{Wishes, read_with_own_style};
use crate::text::Problems;

/// A kind of lead sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sheet {
    Abc,
    MusicXml,
}

/// The text of a lead sheet. Key, tempo and style can be asked for; how the band plays can't be written there.
pub(super) fn lead_sheet(path: &Path, sheet: Sheet, wishes: &Wishes) -> Result<String, Failure> {
    let written = Wishes {
        key: wishes.key,
        tempo: wishes.tempo,
        style: wishes.style.clone(),
        ..Wishes::default()
    };
    if *wishes != written {
        return Err(Failure::Usage(
            "a lead sheet holds the song as it is written: of the options it takes --key, --tempo and --style".into(),
        ));
    }
    let song = sheet_song(path, wishes)?;
    Ok(match sheet {
        Sheet::Abc => write_abc(&song),
        Sheet::MusicXml => write_musicxml(&song),
    })
}

fn sheet_song(path: &Path, wishes: &Wishes) -> Result<Song, Failure> {
    let (source, shelf) = find_song(path).map_err(Failure::Failed)?;
    let mut problems = Problems::new();
    let shelf: FileShelf = shelf;
    let read = read_with_own_style(&source, &shelf, &mut problems);
    let mut song = match read {
        Ok(Some((song, _))) => song,
        Ok(None) => return Err(Failure::Wrong(Box::new(source), problems)),
        Err(wrong) => return Err(Failure::Wrong(wrong.source, wrong.problems)),
    };
    if let Some(key) = wishes.key {
        song = in_key(&song, key);
    }
    song.tempo = wishes.tempo.unwrap_or(song.tempo);
    song.style = wishes.style.clone().unwrap_or(song.style);
    Ok(song)
}
