//! Chords in pieces that are set alike.

use super::{ChordText, Run};

/// A chord in the pieces in which it is set.
pub(super) fn chord_runs(chord: &ChordText, size: f64, bold: bool) -> Vec<Run> {
    let root = if chord.root == "N.C." { 0.7 } else { 1.0 };
    let mut runs = Vec::new();
    for (words, share, rise) in [
        (chord.root.as_str(), root, 0.0),
        (chord.minor, 0.85, 0.0),
        (&chord.raised, 0.6, 0.3),
        (&chord.bass, 0.78, 0.0),
    ] {
        push_runs(&mut runs, words, size * share, size * rise, bold);
    }
    runs
}

/// Adds words; sharps and flats in them a little smaller and, in bold words, heavier.
pub(super) fn push_runs(runs: &mut Vec<Run>, words: &str, size: f64, rise: f64, bold: bool) {
    let is_sign = |letter: char| matches!(letter, '♯' | '♭');
    let mut rest = words;
    while let Some(first) = rest.chars().next() {
        let end = rest.find(|letter| is_sign(letter) != is_sign(first)).unwrap_or(rest.len());
        let (words, after) = rest.split_at(end);
        let mut run = Run { words: words.to_owned(), size, bold, rise, outline: 0.0 };
        if is_sign(first) {
            run.size = size * 0.9;
            run.rise = rise + size * 0.1;
            run.outline = if bold { size * 0.045 } else { 0.0 };
        }
        runs.push(run);
        rest = after;
    }
}
