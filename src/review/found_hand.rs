//! What was noticed of the right hand's weight and the left hand's aim: whether the downbeats stand out, and whether
//! what leads into a chord arrives there.

use super::figures::{Sheet, SheetBar, SheetStroke};
use super::found::{bad, bars_told, good, in_bars};
use super::harmony::Harmony;
use super::trend::median;
use super::{Finding, Part};
use crate::coverage::{BeatPart, Job};
use crate::theory::{Chord, MidiNote};
use crate::time::Ticks;

pub(super) fn found(sheet: &Sheet<'_>) -> Vec<Finding> {
    [downbeats(sheet), lead_ins(sheet)].into_iter().flatten().collect()
}

/// A stroke's loudness in decibels: a velocity's square is the amplitude (General MIDI level 2, from memory).
fn decibels(loud: u8) -> f64 {
    40.0 * f64::from(loud.max(1)).log10()
}

/// How much softer the downbeats of rolls and booms are than what lies between, in decibels.
fn softer_downbeats(sheet: &Sheet<'_>, bars: &[&SheetBar<'_>]) -> Option<f64> {
    /// The fewest strokes of a kind whose loudness can be told.
    const ENOUGH: usize = 12;
    let of = |part: BeatPart| -> Vec<f64> {
        let strokes = bars.iter().flat_map(|bar| sheet.of(bar));
        strokes.filter(|s| s.spot.place == part).map(|s| decibels(s.loud)).collect()
    };
    let (down, and) = (of(BeatPart::Down), of(BeatPart::And));
    (down.len() >= ENOUGH && and.len() >= ENOUGH).then(|| median(&and) - median(&down))
}

/// True for a bar that is rolled, or boomed with a roll between.
pub(super) const fn is_rolled(bar: &SheetBar<'_>) -> bool {
    matches!(bar.covered.job, Job::Roll | Job::RollSoft | Job::RollWith | Job::Boom)
}

/// Downbeats that are softer than the rest of a roll: what the others lean on is not there.
fn downbeats(sheet: &Sheet<'_>) -> Option<Finding> {
    /// From so many decibels on it is heard, and no matter of one string's sound.
    const HEARD: f64 = 3.0;
    let rolled: Vec<&SheetBar<'_>> =
        sheet.bars.iter().filter(|bar| bar.counts && is_rolled(bar)).collect();
    let softer = softer_downbeats(sheet, &rolled)?;
    if softer < HEARD {
        return (softer < -1.0)
            .then(|| good(Part::DownbeatsWeak, 0.3, "Your downbeats stand out.".to_owned()))?;
    }
    let beats = BeatPart::Down.beats(sheet.song.meter);
    let words = format!(
        "Your downbeats are the softest of your roll: {beats} are {softer:.0} dB below what lies between them."
    );
    bad(Part::DownbeatsWeak, (softer - HEARD) / 6.0, words)
}

/// A lead-in that a player set out on: the bar it goes into, and whether it arrived.
struct LeadIn {
    bar: usize,
    arrived: bool,
}

/// Notes that lead within a step of the new chord's root or third, and then what sounds where it begins.
fn lead_ins(sheet: &Sheet<'_>) -> Option<Finding> {
    /// The fewest lead-ins of which something can be said.
    const ENOUGH: usize = 4;
    let told = all_lead_ins(sheet);
    if told.len() < ENOUGH {
        return None;
    }
    let lost: Vec<usize> = told.iter().filter(|it| !it.arrived).map(|it| it.bar).collect();
    let share = lost.len() as f64 / told.len() as f64;
    if share < 0.4 {
        let words = "Your lead-ins arrive on the new chord's root or third.".to_owned();
        return (share < 0.15).then(|| good(Part::LeadInsLost, 0.35, words))?;
    }
    let words = format!(
        "Your lead-ins do not arrive: into {} of {} changes ({}) neither the root nor the third of the new chord comes \
         on its beat.",
        lost.len(),
        told.len(),
        bars_told(&lost)
    );
    in_bars(bad(Part::LeadInsLost, share, words), lost.iter().copied())
}

fn all_lead_ins(sheet: &Sheet<'_>) -> Vec<LeadIn> {
    let song = sheet.song;
    let harmony = Harmony::new(song);
    let spans = song.spans.windows(2).filter_map(|two| {
        let [before, next] = two else { return None };
        Some((song.chord(before.chord?)?, song.chord(next.chord?)?, next.start))
    });
    spans
        .filter_map(|(before, next, at)| {
            let first = sheet.strokes.partition_point(|stroke| stroke.spot.at < at);
            let leads = first.checked_sub(1).and_then(|last| sheet.strokes.get(last))?;
            if at - leads.spot.at > Ticks::QUARTER || matches!(leads.spot.job, Job::Rest) {
                return None;
            }
            let [pitch] = leads.pitches else { return None };
            if harmony.is_drone(*pitch) || before.contains(pitch.pitch_class()) {
                return None;
            }
            let target = target(*pitch, next)?;
            let bar = song.bars.iter().find(|bar| (bar.start..bar.end()).contains(&at))?;
            let here = |stroke: &&SheetStroke<'_>| stroke.spot.at == at;
            let arrives = sheet.strokes.get(first..)?.iter().take_while(here);
            let mut pitches = arrives.flat_map(|stroke| stroke.pitches);
            Some(LeadIn { bar: bar.number, arrived: pitches.any(|pitch| *pitch == target) })
        })
        .collect()
}

/// Where a note leads: the root or the third of the chord within a step of it, the nearer.
fn target(pitch: MidiNote, chord: &Chord) -> Option<MidiNote> {
    let root = i32::from(chord.root.pitch_class());
    let goals = [Some(0), chord.quality.third_or_suspended().map(i32::from)];
    let from = i32::from(pitch.get());
    let steps = [-1, 1, -2, 2].into_iter();
    steps
        .map(|step| from + step)
        .find(|to| goals.iter().flatten().any(|goal| (to - root - goal).rem_euclid(12) == 0))
        .map(MidiNote::clamped)
}
