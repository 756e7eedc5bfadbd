//! The octave in which a tune is played: one for the whole pass where that can be, else one for each of its lines.

use std::collections::HashMap;

use crate::arrange::{Arrangement, Bar};
use crate::theory::MidiNote;
use crate::theory::fretboard::banjo::{BANJO, place_of};

/// How far above its lowest string a tune lies well: up to the fifth fret of the first, where rolls are full (common
/// practice, no source).
const WELL: i32 = 17;

/// How far above it a tune goes at all: the seventeenth fret of the first string, which a neck with a capo still has.
const HIGHEST: i32 = 29;

/// By how many half steps each phrase is moved.
pub(super) struct Octaves {
    capo: i32,
    moved: HashMap<(usize, usize), i32>,
}

impl Octaves {
    /// For some bars of a song, and the notes of each.
    pub(super) fn new(
        song: &Arrangement,
        bars: &[usize],
        of_bar: impl Fn(&Bar) -> Vec<MidiNote>,
        capo: u8,
    ) -> Self {
        let capo = i32::from(capo);
        let mut lines: Vec<((usize, usize), Vec<i32>)> = Vec::new();
        for bar in bars.iter().filter_map(|index| song.bars.get(*index)) {
            let notes = of_bar(bar);
            let notes = notes.iter().map(|note| i32::from(note.get()) - capo);
            match lines.last_mut() {
                Some((line, all)) if *line == (bar.pass, bar.line) => all.extend(notes),
                _ => lines.push(((bar.pass, bar.line), notes.collect())),
            }
        }
        let mut moved = HashMap::new();
        for pass in lines.chunk_by(|((one, _), _), ((other, _), _)| one == other) {
            let all: Vec<i32> = pass.iter().flat_map(|(_, notes)| notes).copied().collect();
            let whole = best(&all);
            for (line, notes) in pass {
                let fits = notes.iter().all(|note| lies(note + whole));
                moved.insert(*line, if fits { whole } else { best(notes) });
            }
        }
        Self { capo, moved }
    }

    /// A note of a bar as it would sound without the capo. What lies outside all the same is folded by itself.
    pub(super) fn of(&self, bar: &Bar, note: MidiNote) -> u8 {
        let by = self.moved.get(&(bar.pass, bar.line)).copied().unwrap_or(0);
        let mut note = i32::from(note.get()) - self.capo + by;
        while note < lowest() {
            note += 12;
        }
        while note > lowest() + HIGHEST {
            note -= 12;
        }
        u8::try_from(note).unwrap_or(BANJO.open[0])
    }
}

/// The lowest string without the capo.
fn lowest() -> i32 {
    i32::from(BANJO.open.get(place_of(4)).copied().unwrap_or_default())
}

fn lies(note: i32) -> bool {
    (0..=HIGHEST).contains(&(note - lowest()))
}

/// The octaves by which notes are moved so that as few as may be lie outside, and as many as may be lie well.
fn best(notes: &[i32]) -> i32 {
    let cost = |by: i32| {
        let above = |note: &i32| note + by - lowest();
        let outside = notes.iter().filter(|note| !(0..=HIGHEST).contains(&above(note))).count();
        let high: i32 = notes.iter().map(|note| (above(note) - WELL).max(0)).sum();
        (outside, high, by.abs())
    };
    (-5..=5).map(|octaves| octaves * 12).min_by_key(|&by| cost(by)).unwrap_or(0)
}
