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

/// What a job is played with.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// One string at a time.
    Strings,
    /// Chords, between bass notes or not.
    Chords,
}

impl Kind {
    const fn of(job: Job) -> Self {
        match job {
            Job::Roll | Job::RollSoft | Job::RollWith | Job::Fill | Job::Lead | Job::Boom => {
                Self::Strings
            }
            Job::Vamp | Job::BoomVamp | Job::Sparse | Job::Rest => Self::Chords,
        }
    }
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
        // Like is held against like: a chord of three strings is louder than a single one, however softly it is meant.
        let of_kind = |bars: &[&SheetBar<'_>], kind: Kind| -> Vec<f64> {
            let own = bars.iter().filter(|bar| Kind::of(bar.covered.job) == kind);
            levels(&own.copied().collect::<Vec<_>>())
        };
        let kinds = [Kind::Strings, Kind::Chords].into_iter().filter_map(|kind| {
            let (sung, others) = (of_kind(&sung, kind), of_kind(&others, kind));
            more(&sung, &others).map(|more| (sung.len().min(others.len()), more))
        });
        // The kind of which there is most.
        let most = kinds.reduce(|best, other| if other.0 > best.0 { other } else { best });
        let behind_singer = most.map(|(_, more)| more);
        // Of one kind alone, so that a song whose singer rests at the end is not taken for a player who tires.
        let kind = if sung.len() * 2 >= backing.len() { &sung } else { &others };
        let third = kind.len() / 3;
        let first = levels(kind.get(..third).unwrap_or_default());
        let last = levels(kind.get(kind.len() - third..).unwrap_or_default());
        Self { behind_singer, at_last: more(&last, &first) }
    }
}
