//! Where chords lie under the hand: tunings, shapes, what a hand can hold, and the way from one shape
//! to the next that moves it least.
//!
//! Strings count from the lowest: index 0 is the one a player calls by the highest number (the
//! guitar's sixth).

pub mod banjo;
mod chop;
mod double_stop;
mod guitar;
mod guitar_bass;
mod path;
mod reach;
mod shape;

pub use chop::{ChopShape, MANDOLIN, chop_shapes};
pub use double_stop::{DoubleStop, FIDDLE, double_stops};
pub use guitar::{GUITAR, GuitarShape, guitar_shape};
pub use guitar_bass::{BassNotes, bass_strings};
pub use path::least_movement;
pub use reach::{Reach, fingers};
pub use shape::Shape;

use super::MidiNote;

/// For each string, lowest first, the fret it is stopped at: 0 open, `None` not struck.
pub type Frets<const N: usize> = [Option<u8>; N];

/// A fretted instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tuning<const N: usize> {
    /// The open strings as MIDI numbers, lowest first.
    pub open: [u8; N],
    /// The last fret of the neck.
    pub frets: u8,
    /// How far the fingers spread on it.
    pub reach: Reach,
}

impl<const N: usize> Tuning<N> {
    /// What each string sounds, `shift` frets (a capo) above what its fret says.
    pub fn notes(&self, frets: &Frets<N>, shift: u8) -> [Option<MidiNote>; N] {
        let mut notes = [None; N];
        for ((note, fret), open) in notes.iter_mut().zip(frets).zip(self.open) {
            *note = fret.map(|fret| {
                MidiNote::clamped(i32::from(open) + i32::from(fret) + i32::from(shift))
            });
        }
        notes
    }
}

/// The pitch classes of intervals above a root as bits, C = bit 0.
fn class_bits(root: u8, intervals: &[u8]) -> u16 {
    intervals.iter().fold(0, |bits, interval| bits | 1 << ((root + interval) % 12))
}

/// The pitch classes of notes as bits, C = bit 0.
fn heard_bits(notes: &[Option<MidiNote>]) -> u16 {
    notes.iter().flatten().fold(0, |bits, note| bits | 1 << note.pitch_class())
}

/// True if two strings sound the same pitch, which only thickens a chord without filling it.
fn has_unison(notes: &[Option<MidiNote>]) -> bool {
    let sounding = || notes.iter().flatten();
    sounding().enumerate().any(|(i, note)| sounding().skip(i + 1).any(|other| other == note))
}
