//! Notes that lead to another chord where no lick does: by step to its root or its third.

use std::ops::RangeInclusive;

use crate::backup::lick::{LickNote, LickSlot, homes};
use crate::backup::slot::FASTEST_MILLIS;
use crate::backup::stance::{Kind, Stance};
use crate::style::Loud;
use crate::theory::fretboard::banjo::{BANJO, Finger, LONG_STRINGS, number_at, sounding};
use crate::theory::{Chord, Key, MidiNote, Scale};

/// What is to be led from and to.
#[derive(Clone, Copy, Debug)]
pub(super) struct Change<'a> {
    pub key: Key,
    pub capo: u8,
    pub from: (&'a Chord, &'a Stance),
    pub to: (&'a Chord, &'a Stance),
    /// How many steps there are for it.
    pub room: usize,
    /// True if the thumb is wanted where it arrives.
    pub booms: bool,
    /// How long a step is, in milliseconds.
    pub millis: f64,
}

/// A string and a fret.
type Place = (u8, u8);

/// What it costs to arrive on the third: the root is what the ear waits for (common practice, no source).
const THIRD: u32 = 4;

/// What it costs to arrive beside the new chord's shape.
const BESIDE: u32 = 3;

/// The steps that lead on, and the one that arrives; `None` where there is no way.
pub(super) fn approach(change: Change<'_>) -> Option<(Vec<LickSlot>, LickSlot)> {
    let notes = if change.room >= 3 { 2 } else { 1 };
    let mut best: Option<(u32, Vec<Place>, Place)> = None;
    for (cost, arrival) in arrivals(change) {
        for way in [-1, 1] {
            let Some((led, line)) = line(change, arrival, way, notes) else { continue };
            let cost = cost + led;
            if best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                best = Some((cost, line, arrival));
            }
        }
    }
    let (_, line, arrival) = best?;
    Some((spread(change, &line, arrival), slot(arrival)))
}

/// Where the hand may stop a string while it holds a chord.
fn under(stance: &Stance) -> RangeInclusive<u8> {
    match stance.kind {
        Kind::Low => 0..=4,
        Kind::Closed | Kind::Vamp => {
            stance.position().saturating_sub(1).max(1)..=stance.position() + BANJO.reach.anywhere
        }
    }
}

fn pitch((string, fret): Place, capo: u8) -> MidiNote {
    sounding(string, fret, capo)
}

/// Where it may arrive, and what that costs.
fn arrivals(change: Change<'_>) -> Vec<(u32, Place)> {
    let (to, stance) = change.to;
    let homes = homes(to);
    let mut found = Vec::new();
    for string in (0..LONG_STRINGS).map(number_at) {
        for fret in under(stance) {
            let class = pitch((string, fret), change.capo).pitch_class();
            let Some(which) = homes.iter().position(|home| *home == class) else { continue };
            // The thumb's downbeat is the root, low.
            if change.booms && (which > 0 || !matches!(string, 3 | 4)) {
                continue;
            }
            let held = stance.hand.fret(string) == Some(fret);
            // On the low strings, as a bass run does.
            let high = match string {
                3 | 4 => 0,
                2 => 1,
                _ => 4,
            };
            let cost = THIRD * u32::from(which > 0) + BESIDE * u32::from(!held) + high;
            found.push((cost, (string, fret)));
        }
    }
    found
}

/// So many notes of the scale that come to a place from below, `way` -1, or from above, 1.
fn line(change: Change<'_>, arrival: Place, way: i32, notes: usize) -> Option<(u32, Vec<Place>)> {
    let (from, stance) = change.from;
    let scale = Scale::of(change.key, from);
    let mut line = Vec::with_capacity(notes);
    let mut cost = 0;
    let (mut note, mut place) = (i32::from(pitch(arrival, change.capo).get()), arrival);
    for _ in 0..notes {
        // By a semitone where the scale has nothing near.
        let next = (1..=2).map(|far| note + way * far).find(|near| scale.has(*near));
        note = next.unwrap_or(note + way);
        let places = (0..LONG_STRINGS)
            .map(number_at)
            .flat_map(|string| under(stance).map(move |fret| (string, fret)));
        let here = |at: &Place| i32::from(pitch(*at, change.capo).get()) == note;
        let near =
            |at: &Place| u32::from(at.1.abs_diff(place.1)) + 2 * u32::from(at.0.abs_diff(place.0));
        place = places.filter(here).min_by_key(near)?;
        cost += u32::from(place.1.abs_diff(arrival.1) > BANJO.reach.anywhere) * 20;
        // A note that the old chord has itself is heard as that chord.
        cost += u32::from(next.is_none()) * 2;
        line.push(place);
    }
    line.reverse();
    Some((cost, line))
}

/// The notes on every other step, and a string of the chord between them.
fn spread(change: Change<'_>, line: &[Place], arrival: Place) -> Vec<LickSlot> {
    let (_, stance) = change.from;
    if change.room < 2 {
        return line.last().map(|place| slot(*place)).into_iter().collect();
    }
    // Beside a note that the index finger can have, the thumb has the drone.
    let for_thumb = !change.booms && line.iter().all(|(string, _)| matches!(string, 2 | 3));
    let others: &[u8] = match (for_thumb, change.booms) {
        (true, _) => &[5, 1, 2],
        (_, true) => &[1, 2],
        _ => &[1, 2, 5],
    };
    // The hand is on its way already.
    let near = |fret: u8| fret == 0 || fret.abs_diff(arrival.1) <= BANJO.reach.anywhere;
    let between = others.iter().find_map(|&string| {
        let busy = line.iter().chain([&arrival]).any(|(other, _)| *other == string);
        let fret = stance.hand.fret(string)?;
        Some((string, fret)).filter(|_| !busy && near(fret))
    });
    let rest = between.filter(|_| change.millis >= FASTEST_MILLIS).map_or(LickSlot::Ring, slot);
    let mut slots: Vec<LickSlot> =
        line.iter().flat_map(|place| [slot(*place), rest.clone()]).collect();
    // In three steps the last note stands right before where it arrives.
    if slots.len() > change.room {
        slots.truncate(change.room);
    }
    slots
}

/// One note, with the finger that has its string.
fn slot((string, fret): Place) -> LickSlot {
    let finger = match string {
        3..=5 => Finger::Thumb,
        2 => Finger::Index,
        _ => Finger::Middle,
    };
    let note = LickNote { string, fret, finger: Some(finger), slur: None };
    LickSlot::Notes { notes: vec![note], loud: Loud::Normal, choked: false }
}
