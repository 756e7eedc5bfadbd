//! How the player does, as far as it is heard: one calm line.

use super::chord_words::chord_words;
use crate::arrange::Arrangement;
use crate::live::{ChordsAs, Noticed};
use crate::theory::{Key, MidiNote};
use crate::time::Tempo;

/// Places on either side of the middle.
const PLACES: i64 = 5;

/// Nanoseconds from one place to the next: what is nearer than half of that to its time is in time. A good player is
/// within 10 ms of the band (common practice, no source).
const PLACE: i64 = 12_000_000;

/// How the player does, as far as it is heard.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HeardView {
    /// What was heard last, and how early or late by eye: `heard G  early ·····│·●··· late`.
    pub line: String,
    /// The chord that was missed last, if one was: `   bar 11: no C`.
    pub missed: String,
}

/// What was heard last, how early or late by eye, and which chord was missed. Each always at its place.
pub fn heard_words(
    noticed: Option<&Noticed>,
    song: &Arrangement,
    tempo: Tempo,
    how: ChordsAs,
) -> HeardView {
    let Some(noticed) = noticed else {
        return HeardView { line: "heard: nothing yet".to_owned(), missed: String::new() };
    };
    let names: Vec<String> =
        noticed.last.iter().take(2).map(|note| name(*note, song.key)).collect();
    let last = if names.is_empty() { "?".to_owned() } else { names.join(" ") };
    let late = noticed.late_at(tempo).0;
    let place = ((late + PLACE * PLACES + PLACE / 2).div_euclid(PLACE)).clamp(0, 2 * PLACES);
    let scale: String = (0..=2 * PLACES)
        .map(|at| match at {
            _ if at == place => '●',
            PLACES => '│',
            _ => '·',
        })
        .collect();
    let missed = noticed.missed.map_or_else(String::new, |(chord, bar)| {
        format!("   bar {bar}: no {}", chord_words(song, Some(chord), how))
    });
    HeardView { line: format!("heard {last:<5} early {scale} late"), missed }
}

/// A note's name without its octave, with flats where the key has them.
fn name(note: MidiNote, key: Key) -> String {
    const SHARPS: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
    const FLATS: [&str; 12] = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];
    let names = if key.flats() { FLATS } else { SHARPS };
    names.get(usize::from(note.pitch_class())).copied().unwrap_or_default().to_owned()
}
