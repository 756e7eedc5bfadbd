//! A chart to print.

use openchair::chart::RoleSet;
use openchair::printed::{ChordsAs, How, chart_sheet, html, lay_out};

use crate::asked::Asked;

/// As a page of its own.
pub fn chart(asked: &Asked, chords: u32, big: bool) -> Result<Vec<u8>, String> {
    let rehearsal = asked.rehearsal()?;
    let song = rehearsal.arrangement().map_err(|why| why.to_string())?;
    let band = rehearsal.perform(song).map_err(|why| why.to_string())?;
    let played = &band.arrangement;
    let passes = band.coverage(RoleSet::EMPTY).passes(played);
    let chords = match chords {
        0 => ChordsAs::Names,
        1 => ChordsAs::Numbers,
        _ => ChordsAs::Both,
    };
    let style = &rehearsal.style().name;
    let sheet = chart_sheet(rehearsal.song(), played, &passes, style, How { chords, capo: 0 });
    let pages = lay_out(&sheet, big);
    let title = sheet.title.clone();
    Ok(html(&title, &[(sheet, pages)], big).into_bytes())
}
