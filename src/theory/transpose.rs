use super::{Chord, Letter, PitchName};

/// A move from one tonic to another, by letter steps and semitones, so that spelling goes along: from
/// G to A, B becomes C#, never Db.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Transposition {
    /// Letters up, 0 to 6.
    steps: i32,
    /// Semitones up, 0 to 11.
    semitones: i32,
}

impl Transposition {
    /// The move that takes `from` to `to`.
    pub const fn between(from: PitchName, to: PitchName) -> Self {
        Self {
            steps: (to.letter as i32 - from.letter as i32).rem_euclid(7),
            semitones: (to.pitch_class() as i32 - from.pitch_class() as i32).rem_euclid(12),
        }
    }

    /// Semitones up, 0 to 11.
    pub const fn semitones(self) -> i32 {
        self.semitones
    }

    /// The note moved. Where the letter would need two sharps or flats, the next letter is taken: Bbb
    /// is written A.
    pub fn pitch(&self, name: PitchName) -> PitchName {
        let class = i32::from(name.pitch_class()) + self.semitones;
        spell(name.letter.step(self.steps), class)
    }

    /// The chord moved, its slash bass too.
    pub fn chord(&self, chord: &Chord) -> Chord {
        Chord {
            root: self.pitch(chord.root),
            quality: chord.quality,
            bass: chord.bass.map(|bass| self.pitch(bass)),
        }
    }
}

/// Names the pitch class by the letter, or by the nearest letter that needs one accidental at most.
fn spell(letter: Letter, class: i32) -> PitchName {
    let name = PitchName::spelled(letter, class);
    match name.accidental.signum() {
        _ if name.accidental.abs() <= 1 => name,
        toward => spell(letter.step(i32::from(toward)), class),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn name(text: &str) -> PitchName {
        PitchName::read(text).unwrap().0
    }

    #[test]
    fn spelling_goes_along() {
        for (from, to, given, moved) in [
            ("G", "A", "B", "C#"),
            ("G", "Bb", "D", "F"),
            ("G", "Ab", "F#", "G"),
            ("C", "Db", "F", "Gb"),
            ("D", "B", "F#", "D#"),
            ("C", "F#", "B", "E#"),
            // Two flats or sharps are too many.
            ("C", "Db", "Bbb", "Bb"),
            ("C", "Gb", "Eb", "A"),
            ("C", "C#", "F#", "G"),
        ] {
            let by = Transposition::between(name(from), name(to));
            assert_eq!(by.pitch(name(given)), name(moved), "{given} from {from} to {to}");
        }
    }

    #[test]
    fn a_chord_takes_its_bass_along() {
        let by = Transposition::between(name("G"), name("A"));
        assert_eq!(by.chord(&Chord::parse("Em7/D").unwrap()).to_string(), "F#m7/E");
    }

    fn simple_name() -> impl Strategy<Value = PitchName> {
        (0..7usize, -1..=1i8).prop_map(|(i, accidental)| PitchName::new(Letter::ALL[i], accidental))
    }

    proptest! {
        #[test]
        fn there_and_back(from in simple_name(), to in simple_name(), note in simple_name()) {
            let (there, back) = (Transposition::between(from, to), Transposition::between(to, from));
            let moved = there.pitch(note);
            prop_assert!(moved.accidental.abs() <= 1);
            let up = (i32::from(note.pitch_class()) + there.semitones()) % 12;
            prop_assert_eq!(i32::from(moved.pitch_class()), up);
            prop_assert_eq!(back.pitch(moved).pitch_class(), note.pitch_class());
            // The very spelling comes back unless two accidentals were avoided on the way.
            if moved.letter == note.letter.step(there.steps) {
                prop_assert_eq!(back.pitch(moved), note);
            }
        }

        #[test]
        fn the_tonic_arrives(from in simple_name(), to in simple_name()) {
            prop_assert_eq!(Transposition::between(from, to).pitch(from), to);
        }
    }
}
