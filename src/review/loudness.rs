//! How loud somebody plays, against what the moment asks for.

use super::figures::{Sheet, SheetBar};
use super::trend::median;
use crate::coverage::{Job, Singing};

/// The fewest strokes of a kind whose loudness can be told.
const ENOUGH: usize = 12;

/// How loud a take is where it matters, in decibels.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Loudness {
    /// How much louder it is while somebody sings than otherwise; less than none if softer.
    pub behind_singer: Option<f64>,
    /// How much louder it is in its last third than in its first.
    pub at_last: Option<f64>,
}

/// A stroke's loudness in decibels: a velocity's square is the amplitude (General MIDI level 2, from memory).
fn decibels(loud: u8) -> f64 {
    40.0 * f64::from(loud.max(1)).log10()
}

impl Loudness {
    pub(super) fn of(sheet: &Sheet<'_>) -> Self {
        let backs = |bar: &&SheetBar<'_>| bar.counts && bar.covered.job != Job::Lead;
        let levels = |bars: &[&SheetBar<'_>]| -> Vec<f64> {
            bars.iter().flat_map(|bar| sheet.of(bar)).map(|stroke| decibels(stroke.loud)).collect()
        };
        let more = |one: &[f64], other: &[f64]| {
            (one.len() >= ENOUGH && other.len() >= ENOUGH).then(|| median(one) - median(other))
        };
        let backing: Vec<&SheetBar<'_>> = sheet.bars.iter().filter(backs).collect();
        let (sung, others): (Vec<_>, Vec<_>) =
            backing.iter().partition(|bar| bar.covered.singing == Singing::Sings);
        let behind_singer = more(&levels(&sung), &levels(&others));
        // Of one kind alone, so that a song whose singer rests at the end is not taken for a player who tires.
        let kind = if sung.len() * 2 >= backing.len() { &sung } else { &others };
        let third = kind.len() / 3;
        let first = levels(kind.get(..third).unwrap_or_default());
        let last = levels(kind.get(kind.len() - third..).unwrap_or_default());
        Self { behind_singer, at_last: more(&last, &first) }
    }
}
