use super::{Chord, Key, Mode, PitchName};

/// The degrees as pickers call them by their half steps above the home note, whatever the letter: for a note
/// whose letter would need two marks.
const USUAL: [&str; 12] = ["1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7"];

/// The number of a note in a key, as charts in numbers write it: `1`, `b7`, `#4`.
///
/// Degrees count on the major scale of the key's home note in every mode, as
/// [`Chord::parse_number`] reads them.
pub fn degree(note: PitchName, key: Key) -> String {
    let steps = (note.letter as i32 - key.tonic.letter as i32).rem_euclid(7);
    let above = (i32::from(note.pitch_class()) - i32::from(key.tonic.pitch_class())).rem_euclid(12);
    let plain = Mode::Major.intervals().get(steps as usize).copied().unwrap_or(0);
    // From -6 to 5: B is a half step below C, not eleven above.
    let off = (above - plain + 6).rem_euclid(12) - 6;
    match off {
        0 => (steps + 1).to_string(),
        -1 => format!("b{}", steps + 1),
        1 => format!("#{}", steps + 1),
        _ => USUAL.get(above as usize).copied().unwrap_or("1").to_owned(),
    }
}

impl Chord {
    /// The chord as a number of the key, its slash bass too: `6m`, `57`, `1/3`.
    pub fn as_number(&self, key: Key) -> String {
        let bass = self.bass.map_or_else(String::new, |bass| format!("/{}", degree(bass, key)));
        format!("{}{}{bass}", degree(self.root, key), self.quality)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::{Letter, Quality};
    use super::*;

    #[test]
    fn chords_are_called_by_their_numbers() {
        for (key, chords, numbers) in [
            ("G", "G C D7 Em F G/B", "1 4 57 6m b7 1/3"),
            ("A mixolydian", "A G D E7 F#m", "1 b7 4 57 6m"),
            ("Em", "Em D G B7 C", "1m b7 b3 57 b6"),
            // The raised fourth by its letter; what has no letter left, by its usual number.
            ("F", "B Bb Ebb", "#4 4 6"),
            ("Bb", "Ab Gm C7", "b7 6m 27"),
        ] {
            let key = Key::parse(key).unwrap();
            let called: Vec<String> = chords
                .split(' ')
                .map(|chord| Chord::parse(chord).unwrap().as_number(key))
                .collect();
            assert_eq!(called.join(" "), numbers, "{chords}");
        }
    }

    proptest! {
        #[test]
        fn a_number_is_read_back_as_the_same_chord(
            letter in 0_usize..7, accidental in -1_i8..=1, which in 0_usize..99, home in 0_usize..7,
            bass in proptest::option::of(0_usize..7),
        ) {
            let qualities: Vec<Quality> = Quality::all().collect();
            let note = |letter: usize, accidental| PitchName::new(Letter::ALL[letter], accidental);
            let chord = Chord {
                root: note(letter, accidental),
                quality: qualities[which % qualities.len()],
                bass: bass.map(|letter| note(letter, 0)),
            };
            let key = Key { tonic: note(home, 0), mode: Mode::Major };
            let read = Chord::parse_number(&chord.as_number(key), key).unwrap();
            prop_assert_eq!(read.root.pitch_class(), chord.root.pitch_class());
            prop_assert_eq!(read.quality, chord.quality);
            prop_assert_eq!(read.bass_class(), chord.bass_class());
        }
    }
}
