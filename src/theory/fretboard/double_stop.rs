use std::cmp::Reverse;

use super::{Shape, class_bits};
use crate::theory::{Chord, MidiNote};

/// The fiddle's open strings, G3 D4 A4 E5 (GDAE; instruments.json of the reference tables).
pub const FIDDLE: [u8; 4] = [55, 62, 69, 76];

/// How far above its open note a string is stopped: in third position the first finger lies a fourth
/// above the open string and the fourth finger a fourth above that (common practice, no source).
const HIGHEST: u8 = 10;

/// As far as the fourth finger comes in first position: the next open string.
const FIRST_POSITION: u8 = 7;

/// The highest note of a backup part: B5, the fourth finger on the E string in first position.
const TOP: u8 = 83;

/// First finger to fourth, in semitones: the hand's frame is a fourth (common practice, no source).
const FRAME: u8 = 5;

/// Where a backup part lies best: around A4, below most voices' highest and above the guitar.
const MIDDLE: i32 = 68;

/// The most that are kept of a chord.
const MOST: usize = 10;

/// Two strings side by side under one bow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct DoubleStop {
    /// The lower string, 0 to 2 from the G.
    pub string: usize,
    /// How many semitones above its open note each is stopped, the lower string first: 0 is open.
    pub stops: [u8; 2],
    /// How ill it lies and sounds by itself; 0 could not be better.
    pub cost: u32,
}

impl DoubleStop {
    /// What it sounds, the lower string first.
    pub fn notes(&self) -> [MidiNote; 2] {
        [0, 1].map(|upper| {
            let open = FIDDLE.get(self.string + upper).copied().unwrap_or_default();
            let stop = self.stops.get(upper).copied().unwrap_or_default();
            MidiNote::clamped(i32::from(open) + i32::from(stop))
        })
    }

    /// How far the two voices go to the other's, in semitones, and two for each string that the bow
    /// crosses.
    pub fn movement(&self, other: &Self) -> u32 {
        let voices = self.notes().into_iter().zip(other.notes());
        let far: u32 = voices.map(|(from, to)| u32::from(from.get().abs_diff(to.get()))).sum();
        far + 2 * self.string.abs_diff(other.string) as u32
    }

    /// Which of the two the ear needs most: 0 for the lower, 1 for the upper.
    pub fn guide(&self, chord: &Chord) -> usize {
        let need = |note: MidiNote| {
            let above = (12 + note.pitch_class() - chord.root.pitch_class()) % 12;
            let order = chord.quality.by_need();
            order.iter().position(|&interval| interval == above).unwrap_or(order.len())
        };
        let [lower, upper] = self.notes();
        usize::from(need(upper) < need(lower))
    }
}

impl Shape for DoubleStop {
    fn cost(&self) -> u32 {
        self.cost
    }

    fn position(&self) -> u8 {
        self.stops.into_iter().filter(|&stop| stop > 0).min().unwrap_or(0)
    }

    /// A fiddler's ear goes by the voices, not by the hand.
    fn movement_between(&self, _: u8, other: &Self, _: u8) -> u32 {
        self.movement(other)
    }
}

/// The double stops of a chord that a hand can hold in the first three positions, from the one that
/// lies and sounds best, 10 at most.
///
/// In each: two tones of the chord, with its third (or what is suspended for it) or its seventh if that
/// can be had; no second, no major seventh; an octave on the root or a perfect fifth alone, so that no
/// dissonance is doubled.
pub fn double_stops(chord: &Chord) -> Vec<DoubleStop> {
    let tones = class_bits(chord.root.pitch_class(), chord.quality.intervals());
    let has = |note: u8| tones >> (note % 12) & 1 == 1;
    let mut found = Vec::new();
    for (string, open) in FIDDLE.windows(2).enumerate() {
        let &[low, high] = open else { continue };
        for below in (0..=HIGHEST).filter(|stop| has(low + stop)) {
            for above in (0..=HIGHEST).filter(|stop| has(high + stop)) {
                let stops = [below, above];
                if high + above > TOP || !holds(stops) {
                    continue;
                }
                if let Some(cost) = cost(chord, [low + below, high + above], stops) {
                    found.push(DoubleStop { string, stops, cost });
                }
            }
        }
    }
    found.sort_unstable_by_key(|stop| (stop.cost, stop.string, Reverse(stop.stops)));
    found.truncate(MOST);
    found
}

/// True if the fingers reach both.
const fn holds([below, above]: [u8; 2]) -> bool {
    below == 0 || above == 0 || below.abs_diff(above) <= FRAME
}

/// Common practice, no source: thirds and sixths with a guide tone, in the middle, in first position.
fn cost(chord: &Chord, notes: [u8; 2], stops: [u8; 2]) -> Option<u32> {
    let quality = chord.quality;
    let above = notes.map(|note| (12 + note % 12 - chord.root.pitch_class()) % 12);
    let is = |interval: Option<u8>| interval.is_some_and(|interval| above.contains(&interval));
    let third = is(quality.third_or_suspended());
    let seventh = is(quality.seventh());
    let perfect = above.iter().all(|interval| matches!(interval, 0 | 7));
    let between = match notes[1].checked_sub(notes[0])? {
        3 | 4 | 8 | 9 => 0,
        5 | 7 => 3,
        // The third and the seventh of a dominant, which say all of it.
        6 if third && seventh => 1,
        6 => 5,
        10 => 4,
        12 if perfect => 6,
        _ => return None,
    };
    let colour = quality.essential().iter().filter(|&&interval| is(Some(interval))).count() as u32;
    let guides = match (third, colour) {
        (true, _) => 4 * (2_u32.saturating_sub(colour)).min(quality.essential().len() as u32 - 1),
        (false, 1..) => 5,
        (false, 0) => 10,
    };
    let middle = (i32::from(notes[0]) + i32::from(notes[1])) / 2;
    let far = middle.abs_diff(MIDDLE) / 3;
    let up: u32 = stops.iter().map(|stop| 2 * u32::from(*stop > FIRST_POSITION)).sum();
    // One finger across both strings must lie just so.
    let across = 3 * u32::from(stops[0] == stops[1] && stops[0] > 0);
    Some(between + guides + far + up + across)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::fretboard::least_movement;
    use crate::theory::{Letter, PitchName, Quality};

    #[test]
    fn the_best_known_double_stops_come_first() {
        let best = |chord: &str| {
            let chord = Chord::parse(chord).unwrap();
            double_stops(&chord)[0].notes().map(MidiNote::get)
        };
        // Third and fifth or third and root, in first position (common practice, no source).
        for chord in ["G", "D", "A", "C", "Em", "Bm"] {
            let parsed = Chord::parse(chord).unwrap();
            let notes = best(chord);
            assert!(matches!(notes[1] - notes[0], 3 | 4 | 8 | 9), "{chord} {notes:?}");
            assert!(notes.iter().all(|note| parsed.contains(note % 12)));
        }
        // Third and seventh say all of a dominant.
        let d7 = best("D7").map(|note| note % 12);
        assert!(d7.contains(&6) && d7.contains(&0), "{d7:?}");
    }

    #[test]
    fn every_chord_has_one_that_a_hand_can_hold() {
        for letter in Letter::ALL {
            for accidental in -1..=1 {
                for quality in Quality::all() {
                    let chord = Chord::new(PitchName::new(letter, accidental), quality);
                    let stops = double_stops(&chord);
                    assert!(!stops.is_empty(), "{chord}");
                    for stop in stops {
                        let [low, high] = stop.notes().map(MidiNote::get);
                        assert!(chord.contains(low % 12) && chord.contains(high % 12));
                        assert!(!matches!(high - low, 0..=2 | 11), "{chord} {stop:?}");
                        assert!((55..=83).contains(&low) && high <= 83);
                        let stopped = stop.stops.iter().all(|&stop| stop > 0);
                        let [below, above] = stop.stops;
                        assert!(!stopped || below.abs_diff(above) <= 5, "{chord} {stop:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn voices_move_little() {
        let names = ["G", "C", "D7", "G", "Em", "A7", "D", "G"];
        let stops: Vec<Vec<DoubleStop>> =
            names.iter().map(|name| double_stops(&Chord::parse(name).unwrap())).collect();
        let sequence: Vec<usize> = (0..names.len()).collect();
        let chosen = least_movement(&stops, &sequence);
        for pair in sequence.windows(2) {
            let (here, there) = (stops[pair[0]][chosen[pair[0]]], stops[pair[1]][chosen[pair[1]]]);
            let voices = here.notes().into_iter().zip(there.notes());
            for (from, to) in voices {
                assert!(from.get().abs_diff(to.get()) <= 5, "{pair:?} {here:?} {there:?}");
            }
        }
    }
}
