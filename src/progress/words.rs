//! Takes over days in words.

use std::fmt::Write;

use super::{Entry, SongProgress};
use crate::text::paragraph;

/// So many takes of a song are listed; more are on the page.
const LISTED: usize = 12;

/// Each song with its last takes, and what has changed; prose in lines of at most `wide` letters.
pub fn words(songs: &[SongProgress], wide: usize) -> String {
    if songs.is_empty() {
        return "No take was reviewed yet: `openchair review SONG TAKE` keeps its figures here.\n"
            .to_owned();
    }
    let mut out = String::new();
    for (index, song) in songs.iter().enumerate() {
        if index > 0 {
            out.push('\n');
        }
        let _ = writeln!(out, "{}", song.title);
        let first = song.takes.len().saturating_sub(LISTED);
        if first > 0 {
            let _ = writeln!(out, "  {first} takes before");
        }
        let head =
            ["day", "speed", "bars", "covered", "even to", "pace", "worked on"].map(str::to_owned);
        let mut rows = vec![head];
        rows.extend(song.takes.iter().skip(first).map(row));
        let widths: Vec<usize> = (0..7)
            .map(|column| {
                rows.iter()
                    .filter_map(|row| row.get(column))
                    .map(|cell| cell.chars().count())
                    .max()
                    .unwrap_or(0)
            })
            .collect();
        for row in &rows {
            let cells: Vec<String> =
                row.iter().zip(&widths).map(|(cell, &width)| format!("{cell:width$}")).collect();
            let _ = writeln!(out, "  {}", cells.join("  ").trim_end());
        }
        if let Some(change) = song.change() {
            paragraph(&mut out, 2, wide, &change);
        }
    }
    out
}

fn row(take: &Entry) -> [String; 7] {
    let covered = match take.open {
        0 => "-".to_owned(),
        open => format!("{} of {open}", take.covered),
    };
    let pace = match take.pace {
        slow if slow < 0.0 => format!("{:.1} % slow", -slow),
        fast if fast > 0.0 => format!("{fast:.1} % fast"),
        _ => "the band's".to_owned(),
    };
    [
        take.day().to_owned(),
        format!("{:.0} %", take.speed),
        format!("{}-{}", take.bars.0, take.bars.1),
        covered,
        format!("{:.0} ms", take.even),
        pace,
        take.work_on.words().to_owned(),
    ]
}
