//! A page of the neck: where each chord's closed positions lie, and which inversion each is.

mod svg;
mod words;

pub use svg::neck_svg;
pub use words::neck_text;

use super::spelling::spelled;
use super::{ChordFact, Tablature};
use crate::theory::fretboard::banjo::ClosedShape;

/// How many frets a diagram shows at least: as many as a hand has fingers.
const FRETS: u8 = 4;

/// The chords of which there is a diagram: a slash bass is left to the bass, so `G/B` is fingered as G.
fn chords(tab: &Tablature) -> Vec<&ChordFact> {
    let mut chords: Vec<&ChordFact> = Vec::new();
    for fact in &tab.chords {
        let is_same = |other: &&ChordFact| {
            (other.chord.root, other.chord.quality) == (fact.chord.root, fact.chord.quality)
        };
        if !chords.iter().any(is_same) {
            chords.push(fact);
        }
    }
    chords
}

/// What a chord is called on the page: with its shape's name under a capo.
fn called(tab: &Tablature, fact: &ChordFact) -> String {
    let name = format!("{}{}", fact.chord.root, fact.chord.quality);
    if tab.capo > 0 { format!("{name} (as {})", fact.shape) } else { name }
}

/// The frets that a shape's diagram shows.
fn frets(shape: &ClosedShape) -> std::ops::RangeInclusive<u8> {
    let first = shape.position();
    first..=shape.highest().max(first + FRETS - 1)
}

/// The notes of a shape by name, fourth string first; a dash for a string that is not picked.
fn note_names(tab: &Tablature, fact: &ChordFact, shape: &ClosedShape) -> [String; 4] {
    shape.notes().map(|note| {
        note.map_or_else(
            || "-".to_owned(),
            |note| spelled(note, Some(&fact.chord), tab.key).0.to_string(),
        )
    })
}

/// Where the fifth string stands to the page's frets.
fn capo_line(tab: &Tablature) -> String {
    match tab.spike() {
        None => "No capo.".to_owned(),
        Some(spike) => format!(
            "Capo {}, fifth string held down at fret {spike}. Frets count from the capo.",
            tab.capo
        ),
    }
}
