use super::{Chord, Key};

/// The pitch classes that a line may step on, one bit each, C in the lowest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Scale(u16);

impl Scale {
    /// The key's scale, bent to the chord of the moment: a chord tone that the key does not have
    /// takes the place of the key's note of the same letter (over E7 in G, G sharp for G).
    pub fn of(key: Key, chord: &Chord) -> Self {
        let mut degrees = key.scale().map(|name| (name.letter, name.pitch_class()));
        for &interval in chord.quality.intervals() {
            let letter = chord.root.letter.step(letter_steps(interval));
            let class = (chord.root.pitch_class() + interval) % 12;
            if let Some(degree) = degrees.iter_mut().find(|(other, _)| *other == letter) {
                degree.1 = class;
            }
        }
        Self(degrees.iter().fold(0, |bits, (_, class)| bits | 1 << class))
    }

    /// True if the scale has the note.
    pub const fn has(self, note: i32) -> bool {
        self.0 >> note.rem_euclid(12) & 1 == 1
    }

    /// The scale's next note below (`way` −1) or above (+1), at most a whole tone away; where the
    /// scale leaps further, as in a harmonic minor, the semitone.
    pub(super) fn step(self, from: i32, way: i32) -> i32 {
        (1..=2).map(|far| from + way * far).find(|&note| self.has(note)).unwrap_or(from + way)
    }
}

/// How many letters above the root a chord tone is spelled, by its semitones.
const fn letter_steps(interval: u8) -> i32 {
    match interval {
        0 => 0,
        1 | 2 => 1,
        3 | 4 => 2,
        5 => 3,
        6..=8 => 4,
        9 => 5,
        _ => 6,
    }
}
