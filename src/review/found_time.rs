//! What was noticed of the time: the tempo, the beat, its evenness, its swing.

use super::figures::{Sheet, SheetStroke};
use super::found::{bad, good, in_bars};
use super::noticed::{EARLY, LATE, RUSHING, noticed, uneven};
use super::trend::median;
use super::{Finding, Part, Review, TimingReference};
use crate::coverage::{BeatPart, Job};

pub(super) fn found(review: &Review, sheet: &Sheet<'_>) -> Vec<Finding> {
    let all = [
        lost(sheet),
        tempo(review, sheet),
        beside(review),
        evenness(review, sheet),
        swing(review, sheet),
        into_changes(review, sheet),
    ];
    all.into_iter().flatten().collect()
}

fn tempo(review: &Review, sheet: &Sheet<'_>) -> Option<Finding> {
    /// After so many bars it is told how far the beat has gone off.
    const BARS: f64 = 16.0;
    let percent = review.whole.timing.rushing;
    if percent.abs() < RUSHING {
        return None;
    }
    let beats = sheet.song.meter.beats() as f64 * BARS * percent.abs() / 100.0;
    let (about, verb, ahead) = if percent > 0.0 {
        (Part::Rushing, "rush", "ahead")
    } else {
        (Part::Dragging, "drag", "behind")
    };
    let own = review.tempo * (1.0 + percent / 100.0);
    // As fine as it takes to tell them apart.
    let digits = usize::from((own - review.tempo).abs() < 1.0);
    let words = format!(
        "You {verb}: your beat goes at {own:.digits$}, the band's at {:.digits$}. After {BARS} bars you are {} {ahead}.",
        review.tempo,
        beats_told(beats)
    );
    // A beat in four bars is as bad as it gets.
    bad(about, (percent.abs() - RUSHING) / 5.0, words)
}

fn lost(sheet: &Sheet<'_>) -> Option<Finding> {
    let &(bar, seconds) = sheet.lost.first()?;
    let song = sheet.song;
    let number = song.bars.get(bar)?.number;
    let beats = seconds / song.tempo.nanos(song.meter.beat()).seconds();
    let (verb, when) = if beats > 0.0 { ("lose", "before") } else { ("gain", "after") };
    let count = beats_told(beats.abs());
    let more = match sheet.lost.len() {
        1 => String::new(),
        count => format!(" It happens {count} times."),
    };
    let words = format!(
        "About bar {number} you {verb} {count}: from there on your bars begin {count} {when} the song's.{more}"
    );
    in_bars(bad(Part::Lost, sheet.lost.len() as f64 / 4.0, words), std::iter::once(number))
}

/// Beats in words, to the half.
fn beats_told(beats: f64) -> String {
    match (beats * 2.0).round() as u32 {
        0 | 1 => "half a beat".to_owned(),
        2 => "a beat".to_owned(),
        3 => "a beat and a half".to_owned(),
        even if even % 2 == 0 => format!("{} beats", even / 2),
        odd => format!("{} and a half beats", odd / 2),
    }
}

fn beside(review: &Review) -> Option<Finding> {
    let mean = review.whole.timing.mean;
    if review.against != TimingReference::Band || (-EARLY..=LATE).contains(&mean) {
        return None;
    }
    let (about, word) = if mean < 0.0 { (Part::Early, "early") } else { (Part::Late, "late") };
    let words = format!(
        "All of it is {:.0} ms {word}. If the recording was delayed, say by how much with --latency: a \
         review can't tell that from your hands.",
        mean.abs()
    );
    bad(about, mean.abs() / 100.0, words)
}

fn evenness(review: &Review, sheet: &Sheet<'_>) -> Option<Finding> {
    let timing = &review.whole.timing;
    let from = uneven(step(sheet));
    let (own, band) = (timing.spread, timing.band_spread);
    if own > from {
        // Of what strays by chance a third lies beyond the standard deviation.
        let words = format!(
            "You play unevenly: one stroke in three is more than {own:.0} ms off your beat; the band keeps within \
             {band:.0}. From {from:.0} on it is heard."
        );
        return bad(Part::Uneven, timing.spread / from - 1.0, words);
    }
    let even = timing.rushing.abs() < RUSHING;
    let words = format!(
        "You keep time: most of your strokes are within {own:.0} ms of your beat, the band's within {band:.0}."
    );
    even.then(|| good(Part::Steady, 0.6, words))?
}

/// How far the places of the beat are apart, in milliseconds.
fn step(sheet: &Sheet<'_>) -> f64 {
    let song = sheet.song;
    song.tempo.nanos(BeatPart::grid(song.meter)).seconds() * 1e3
}

/// Whether the beat before a new chord is hurried.
fn into_changes(review: &Review, sheet: &Sheet<'_>) -> Option<Finding> {
    /// The fewest strokes on either side that tell.
    const ENOUGH: usize = 12;
    let telling = sheet
        .strokes
        .iter()
        .filter(|stroke| stroke.placed.tells && !matches!(stroke.spot.job, Job::Fill | Job::Lead));
    let (before, others): (Vec<_>, Vec<_>) =
        telling.partition(|stroke| sheet.is_before_change(stroke.spot.at));
    if before.len() < ENOUGH || others.len() < ENOUGH {
        return None;
    }
    let middle = |strokes: &[&SheetStroke<'_>]| {
        median(&strokes.iter().map(|stroke| stroke.placed.stray).collect::<Vec<f64>>()) * 1e3
    };
    let early = middle(&others) - middle(&before);
    if early < (1.5 * noticed(step(sheet))).max(0.7 * review.whole.timing.spread) {
        return None;
    }
    let words = format!(
        "You rush into the changes: in the beat before a new chord you are {early:.0} ms sooner than elsewhere."
    );
    bad(Part::IntoChanges, early / 40.0, words)
}

/// How the player swings, against the song.
fn swing(review: &Review, sheet: &Sheet<'_>) -> Option<Finding> {
    /// What a pair's second note must be off, as a share of the pair: half of what lies between even eighths and a
    /// gentle swing. The figure is ours.
    const OFF: f64 = 0.03;
    let later = sheet.swing? * 1e3;
    let told = review.swing?;
    let heard = 2.0 * noticed(step(sheet));
    if later.abs() < heard || (told.yours - told.song).abs() < OFF {
        return None;
    }
    let swung = told.song - 0.5 >= OFF;
    let (yours, song) = (long_and_short(told.yours), long_and_short(told.song));
    let (about, words) = if later > 0.0 && swung {
        let words = format!(
            "You swing harder than the song: your eighths go {yours}, long to short, the song's {song}."
        );
        (Part::TooSwung, words)
    } else if later > 0.0 {
        let words = format!(
            "You swing where the song is straight: your eighths go {yours}, long to short."
        );
        (Part::TooSwung, words)
    } else if told.yours < 0.5 - OFF {
        let words = format!(
            "Your second eighths come too soon: they go {yours}, first to second, the song's {song}."
        );
        (Part::Straight, words)
    } else if told.yours < 0.5 + OFF || yours == "1 to 1" {
        let words = format!(
            "You play straight eighths, and the song swings: its eighths go {song}, long to short."
        );
        (Part::Straight, words)
    } else {
        let words = format!(
            "You swing less than the song: your eighths go {yours}, long to short, the song's {song}."
        );
        (Part::Straight, words)
    };
    bad(about, later.abs() / 60.0, words)
}

/// A share of a pair as players say it: "3 to 2" for 0.6.
fn long_and_short(share: f64) -> String {
    /// As fine as a swing is told.
    const MOST: u32 = 7;
    let off =
        |(long, short): &(u32, u32)| (f64::from(*long) / f64::from(long + short) - share).abs();
    let all = (1..=MOST).flat_map(|short| (1..=MOST).map(move |long| (long, short)));
    // Of equals the plainest.
    let plain = |pair: &(u32, u32)| off(pair) + 0.004 * f64::from(pair.0 + pair.1);
    let best = all.min_by(|one, other| plain(one).total_cmp(&plain(other)));
    let (long, short) = best.unwrap_or((1, 1));
    format!("{long} to {short}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_swing_is_told_as_players_say_it() {
        let told = [0.5, 0.6, 0.667, 0.57, 0.75].map(long_and_short);
        assert_eq!(told, ["1 to 1", "3 to 2", "2 to 1", "4 to 3", "3 to 1"]);
    }
}
