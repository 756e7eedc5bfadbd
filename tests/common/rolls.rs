//! Takes of a five-string banjo made note by note: rolls, pinches, strings picked again, pauses.
#![allow(dead_code, clippy::unwrap_used)]

use std::collections::HashMap;

use openchair::perform::Note;
use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg32;

use super::sound::note;

/// The strings in open G tuning, short one first, and as fretted for a C and a D (common practice, no source).
const SHAPES: [[u8; 5]; 3] = [[67, 50, 55, 59, 62], [67, 52, 55, 60, 64], [69, 50, 57, 62, 66]];

/// Rolls as strings, 0 the short one.
const ROLLS: [[usize; 8]; 3] =
    [[2, 3, 0, 4, 2, 3, 0, 4], [4, 3, 0, 4, 3, 0, 4, 3], [2, 0, 3, 4, 2, 0, 3, 4]];

/// A stroke: milliseconds, pitches.
pub type Stroke = (i64, Vec<u8>);

/// Random numbers of a seed.
pub struct Chance(Pcg32);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(Pcg32::seed_from_u64(seed))
    }

    /// Evenly from 0 to 1.
    pub fn even(&mut self) -> f64 {
        f64::from(self.0.next_u32()) / f64::from(u32::MAX)
    }

    /// About 0 with a standard deviation of 1 (the sum of twelve even ones, less their mean).
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// So many strokes a second for so many seconds, each early or late by 5 ms or so, and the notes that make them.
pub fn roll(a_second: f64, seconds: f64, seed: u64) -> (Vec<Stroke>, Vec<Note>) {
    let mut chance = Chance::new(seed);
    let (mut strokes, mut struck): (Vec<Stroke>, Vec<(i64, u8, u8)>) = (Vec::new(), Vec::new());
    let (mut time, mut count) = (400.0, 0);
    let (mut shape, mut roll) = (SHAPES[0], ROLLS[0]);
    while time < seconds * 1_000.0 - 400.0 {
        if count % 8 == 0 {
            shape = SHAPES[(chance.even() * 2.99) as usize];
            roll = ROLLS[(chance.even() * 2.99) as usize];
        }
        let at = (time + 5.0 * chance.normal()).round() as i64;
        let kind = chance.even();
        let pitches = if kind < 0.06 {
            Vec::new()
        } else if kind < 0.12 {
            vec![shape[3], shape[0]]
        } else if kind < 0.20 && strokes.last().is_some_and(|(_, last)| last.len() == 1) {
            strokes.last().unwrap().1.clone()
        } else {
            vec![shape[roll[count % 8]]]
        };
        for (finger, pitch) in pitches.iter().enumerate() {
            let velocity = (88.0 + 12.0 * chance.normal()).clamp(50.0, 120.0) as u8;
            struck.push((at + finger as i64 * 3, *pitch, velocity));
        }
        if !pitches.is_empty() {
            strokes.push((at, pitches));
        }
        time += 1_000.0 / a_second;
        count += 1;
        if chance.even() < 0.015 {
            time += 1_200.0;
        }
    }
    // A string rings until it is picked again.
    let mut ends: HashMap<u8, i64> = HashMap::new();
    let mut notes: Vec<Note> = Vec::new();
    struck.sort_unstable();
    for &(at, pitch, velocity) in struck.iter().rev() {
        let end = ends.get(&pitch).copied().unwrap_or(i64::MAX).min(at + 1_200);
        if end > at {
            notes.push(note(at, end - at, pitch, velocity));
        }
        ends.insert(pitch, at);
    }
    notes.reverse();
    (strokes, notes)
}
