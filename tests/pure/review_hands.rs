//! Whether a review tells downbeats that nobody can stand on, and lead-ins that lead nowhere: players made up for the
//! purpose, a hundred of each, and none of it where they are as they should be.

use openchair::coverage::{BeatPart, Job};
use openchair::review::{Anchor, Part, Review, review};
use openchair::take::{Hit, Take};
use openchair::theory::MidiNote;
use openchair::time::{Nanos, Ticks};

use crate::common::player::{Evening, Habit, evening, take};

const SEEDS: u64 = 100;

/// Seconds from the recording's beginning to the song's.
const BEGINS: f64 = 2.0;

fn rolls() -> Vec<Evening> {
    ["lantern-on-the-landing", "smoke-below-the-bend", "not-a-word-to-marit"]
        .map(|name| evening(name, &[], 100.0))
        .into_iter()
        .collect()
}

fn of(evening: &Evening, take: &Take) -> Review {
    let Evening { song, played, open, .. } = evening;
    review(song, played, open, take, Anchor::Begins(Nanos((BEGINS * 1e9) as i64))).unwrap()
}

/// The places of the song, with when they are in the take.
fn places(evening: &Evening) -> Vec<(f64, Ticks, BeatPart, Job)> {
    let Evening { song, played, open, .. } = evening;
    let start = played.nanos(song.start).seconds();
    let bars = open.bars.iter().flat_map(|bar| bar.slots.iter().map(move |slot| (slot, bar.job)));
    bars.map(|(slot, job)| {
        let at = played.nanos(played.swing.moved(slot.at)).seconds() - start + BEGINS;
        (at, slot.at, slot.place, job)
    })
    .collect()
}

fn near(places: &[(f64, Ticks, BeatPart, Job)], hit: &Hit) -> (Ticks, BeatPart, Job) {
    let time = hit.at.seconds();
    let one = places.iter().min_by(|a, b| (a.0 - time).abs().total_cmp(&(b.0 - time).abs()));
    let &(_, at, place, job) = one.unwrap();
    (at, place, job)
}

/// The downbeats of the rolls by so many velocities softer, or harder.
fn leaning(evening: &Evening, seed: u64, by: i16) -> Take {
    let mut take = take(evening, Habit::Steady, seed, BEGINS);
    let places = places(evening);
    for hit in &mut take.hits {
        if near(&places, hit).1 == BeatPart::Down {
            hit.loud = (i16::from(hit.loud) + by).clamp(1, 127) as u8;
        }
    }
    take
}

#[test]
fn downbeats_that_are_too_soft_are_told_and_no_others() {
    let evenings = rolls();
    let told = |by: i16| {
        let take = |seed: u64| {
            let evening = &evenings[seed as usize % evenings.len()];
            of(evening, &leaning(evening, seed, by))
        };
        let found = |review: &Review, good: bool| {
            review.findings.iter().any(|it| it.about == Part::DownbeatsWeak && it.good == good)
        };
        let reviews: Vec<Review> = (0..SEEDS).map(take).collect();
        let top =
            reviews.iter().filter(|review| review.advice.about == Part::DownbeatsWeak).count();
        (
            reviews.iter().filter(|review| found(review, false)).count(),
            reviews.iter().filter(|review| found(review, true)).count(),
            top,
        )
    };
    assert_eq!(told(-30), (100, 0, 100), "soft downbeats, and nothing else is worth more");
    assert_eq!(told(0), (0, 0, 0), "an even roll");
    assert_eq!(told(15), (0, 100, 0), "a roll that stands");
}

/// Into every change on a beat a note that leads, and what it leads to: the root (or the third), or the fifth.
fn leading(evening: &Evening, seed: u64, arrives: bool) -> Take {
    let mut take = take(evening, Habit::Steady, seed, BEGINS);
    let places = places(evening);
    let song = &evening.song;
    for two in song.spans.windows(2) {
        let (Some(before), Some(next)) = (two[0].chord, two[1].chord) else { continue };
        let (before, next) = (song.chord(before).unwrap(), song.chord(next).unwrap());
        let at = two[1].start;
        let third = next.quality.third_or_suspended().unwrap_or(4);
        // From a step below the root or above the third, whichever the old chord has not.
        let root = 48 + i32::from(next.root.pitch_class());
        let ways = [
            (root - 1, root),
            (root - 2, root),
            (root + i32::from(third) + 1, root + i32::from(third)),
        ];
        let outside = |note: &i32| !before.contains((note.rem_euclid(12)) as u8);
        let Some((from, to)) = ways.into_iter().find(|(from, _)| outside(from)) else { continue };
        let fifth = root + 7;
        for hit in &mut take.hits {
            let (here, _, job) = near(&places, hit);
            if job == Job::Rest {
                continue;
            }
            if here < at && at - here <= Ticks::EIGHTH {
                hit.pitches = vec![MidiNote::clamped(from)];
            } else if here == at {
                hit.pitches = vec![MidiNote::clamped(if arrives { to } else { fifth })];
            }
        }
    }
    take
}

#[test]
fn lead_ins_that_lead_nowhere_are_told_and_no_others() {
    let evenings = rolls();
    for (arrives, wanted) in [(false, (100, 0)), (true, (0, 100))] {
        let found = |good: bool| {
            (0..SEEDS)
                .filter(|&seed| {
                    let evening = &evenings[seed as usize % evenings.len()];
                    let told = of(evening, &leading(evening, seed, arrives));
                    told.findings.iter().any(|it| it.about == Part::LeadInsLost && it.good == good)
                })
                .count()
        };
        assert_eq!((found(false), found(true)), wanted, "arrives: {arrives}");
    }
    // Who leads nowhere on purpose, with chord tones alone, is not blamed.
    let plain = (0..SEEDS).filter(|&seed| {
        let evening = &evenings[seed as usize % evenings.len()];
        let told = of(evening, &take(evening, Habit::Steady, seed, BEGINS));
        told.findings.iter().any(|it| it.about == Part::LeadInsLost && !it.good)
    });
    assert_eq!(plain.count(), 0);
}
