//! Which letter a picked note is written with.

use crate::theory::{Chord, Key, Letter, MidiNote, PitchName};

/// Degrees of a scale above a root by half steps: how many letters up the note stands, as chords count
/// thirds, fifths and sevenths.
const STEPS: [i32; 12] = [0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6];

/// The name of a pitch over a chord: as the key has it, else as the chord does, else with a flat in a key of
/// flats and a sharp in any other. And its octave, as MusicXML counts (C4 is middle C).
pub(super) fn spelled(pitch: MidiNote, chord: Option<&Chord>, key: Key) -> (PitchName, i32) {
    let class = pitch.pitch_class();
    let is = |name: &PitchName| name.pitch_class() == class && name.accidental.abs() <= 1;
    let of_key = key.scale().into_iter().find(is);
    let of_chord = chord.and_then(|chord| {
        let above = usize::from((class + 12 - chord.root.pitch_class()) % 12);
        let letter = chord.root.letter.step(STEPS.get(above).copied()?);
        Some(PitchName::spelled(letter, i32::from(class))).filter(is)
    });
    let plain = || {
        let wanted = if key.flats() { -1 } else { 1 };
        let names = Letter::ALL.map(|letter| PitchName::spelled(letter, i32::from(class)));
        let natural = names.into_iter().find(|name| name.accidental == 0);
        natural.or_else(|| names.into_iter().find(|name| name.accidental == wanted))
    };
    let name = of_key.or(of_chord).or_else(plain).unwrap_or(PitchName::new(Letter::C, 0));
    // B sharp and C flat lie on the other side of the octave's border.
    let natural = i32::from(pitch.get()) - i32::from(name.accidental);
    (name, natural.div_euclid(12) - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_are_spelled_by_key_and_chord() {
        for (pitch, chord, key, written) in [
            (66, "D", "G", "F#4"),
            (63, "Eb", "Bb", "Eb4"),
            (61, "A7", "F", "C#4"),
            (70, "G", "G", "Bb4"),
            (59, "B7", "Gb", "Cb4"),
            (72, "C#", "C#", "B#4"),
            (60, "C", "C", "C4"),
        ] {
            let chord = Chord::parse(chord).unwrap();
            let pitch = MidiNote::new(pitch).unwrap();
            let (name, octave) = spelled(pitch, Some(&chord), Key::parse(key).unwrap());
            assert_eq!(format!("{name}{octave}"), written, "{chord} in {key}");
            let back = 12 * (octave + 1) + name.letter.semitones() + i32::from(name.accidental);
            assert_eq!(back, i32::from(pitch.get()));
        }
    }
}
