//! What was noticed of the job: whether the open chair is covered, the singer has room, and the pauses an answer.

use super::figures::{Sheet, SheetBar};
use super::found::{bad, good, in_bars};
use super::loudness::Loudness;
use super::noticed::noticed;
use super::trend::median;
use super::{Finding, Part, Review};
use crate::coverage::{Job, Singing};
use crate::take::Source;

pub(super) fn found(review: &Review, sheet: &Sheet<'_>) -> Vec<Finding> {
    let loudness = Loudness::of(sheet);
    let all = [
        covered(review),
        behind_the_singer(sheet),
        loud_behind_the_singer(review, loudness, sheet),
        fading(loudness),
        fills(sheet),
        pushed_fills(review, sheet),
    ];
    all.into_iter().flatten().collect()
}

/// Louder while somebody sings than otherwise.
fn loud_behind_the_singer(
    review: &Review,
    loudness: Loudness,
    sheet: &Sheet<'_>,
) -> Option<Finding> {
    /// Decibels from which on it is heard as louder, and no chance of the hand (common practice, no source); and from
    /// which on down as softer.
    const LOUDER: f64 = 3.0;
    /// And by how much more in a recording, in which one string sounds louder than the other, and a chord than a note.
    const BY_STRINGS: f64 = 1.5;
    const SOFTER: f64 = -2.0;
    let more = loudness.behind_singer?;
    let louder = LOUDER + if review.source == Source::Sound { BY_STRINGS } else { 0.0 };
    if more > louder {
        let words = format!(
            "You are {more:.0} dB louder behind the singer than where nobody sings. It should be the other way round."
        );
        let sung = sheet.bars.iter().filter(|bar| bar.covered.singing == Singing::Sings);
        let sung = sung.map(|bar| bar.bar.number);
        return in_bars(bad(Part::LoudBehindSinger, (more - louder) / 6.0, words), sung);
    }
    let words = "You come down behind the singer.".to_owned();
    (more < SOFTER).then(|| good(Part::LoudBehindSinger, 0.45, words))?
}

/// Softer at the end.
fn fading(loudness: Loudness) -> Option<Finding> {
    /// Decibels from which on it is told.
    const FADED: f64 = -5.0;
    let more = loudness.at_last.filter(|more| *more < FADED)?;
    let words =
        format!("You fade: at the end you are {:.0} dB softer than at the beginning.", -more);
    bad(Part::Fading, (FADED - more) / 6.0, words)
}

/// Fills before or after their time.
fn pushed_fills(review: &Review, sheet: &Sheet<'_>) -> Option<Finding> {
    /// The fewest strokes of fills that tell.
    const ENOUGH: usize = 8;
    if sheet.fills.len() < ENOUGH {
        return None;
    }
    let step = {
        let song = sheet.song;
        song.tempo.nanos(crate::coverage::BeatPart::grid(song.meter)).seconds() * 1e3
    };
    let later = median(&sheet.fills) * 1e3;
    // An uneven hand is that in its fills too.
    let from = (1.5 * noticed(step)).max(0.8 * review.whole.timing.spread).max(12.0);
    if later.abs() < from {
        return None;
    }
    let bars = sheet.bars.iter().filter(|bar| bar.counts && bar.covered.job == Job::Fill);
    let bars = bars.filter(|bar| !bar.strokes.is_empty()).map(|bar| bar.bar.number);
    let (about, verb) = if later < 0.0 {
        (Part::FillsEarly, "rush your fills: they come")
    } else {
        (Part::FillsLate, "drag your fills: they come")
    };
    let word = if later < 0.0 { "ahead of" } else { "behind" };
    let words = format!("You {verb} {:.0} ms {word} your own beat.", later.abs());
    in_bars(bad(about, later.abs() / 60.0, words), bars)
}

fn covered(review: &Review) -> Option<Finding> {
    let (open, covered) = (review.whole.open, review.whole.covered);
    if open < 8 {
        return None;
    }
    let share = covered as f64 / open as f64;
    let told = match open - covered.min(open) {
        0 => format!("all {open} strokes that the band leaves to you"),
        _ => format!("{covered} of the {open} strokes that the band leaves to you"),
    };
    if share < 0.7 {
        return bad(Part::Uncovered, 1.0 - share / 0.7, format!("You play only {told}."));
    }
    (share >= 0.85).then(|| good(Part::Uncovered, 0.5, format!("You play {told}.")))?
}

fn behind_the_singer(sheet: &Sheet<'_>) -> Option<Finding> {
    let told: Vec<bool> = sheet.bars.iter().filter_map(too_busy).collect();
    if told.len() < 4 {
        return None;
    }
    let busy = told.iter().filter(|busy| **busy).count();
    let share = busy as f64 / told.len() as f64;
    if share > 0.4 {
        let words = format!(
            "You play too much behind the singer: in {busy} of {} bars where next to nothing is wanted you hardly stop.",
            told.len()
        );
        return bad(Part::Busy, share, words);
    }
    (share < 0.1)
        .then(|| good(Part::Busy, 0.3, "You keep it plain behind the singer.".to_owned()))?
}

/// True if a bar is busy though next to nothing is to be played behind the singer; `None` where that is not the
/// job: a soft roll is on every place.
pub(super) fn too_busy(bar: &SheetBar<'_>) -> Option<bool> {
    let judged =
        bar.counts && bar.covered.job == Job::Sparse && bar.covered.singing == Singing::Sings;
    // A vamp with a note that leads on takes half of them.
    judged.then_some(bar.strokes.len() * 3 > bar.places * 2)
}

fn fills(sheet: &Sheet<'_>) -> Option<Finding> {
    let told: Vec<bool> = sheet.bars.iter().filter_map(unfilled).collect();
    let missed = told.iter().filter(|missed| **missed).count();
    if told.len() < 2 {
        return None;
    }
    if missed * 2 > told.len() {
        let words = format!(
            "The singer pauses in {} bars, and in {missed} of them you do not answer.",
            told.len()
        );
        return bad(Part::NoFills, 1.0, words);
    }
    (missed == 0)
        .then(|| good(Part::NoFills, 0.35, "You answer in the singer's pauses.".to_owned()))?
}

/// True if a pause of the singer's stays without a fill; `None` in other bars.
pub(super) fn unfilled(bar: &SheetBar<'_>) -> Option<bool> {
    /// One stroke is no fill.
    const FILL: usize = 2;
    (bar.counts && bar.covered.job == Job::Fill).then_some(bar.strokes.len() < FILL)
}
