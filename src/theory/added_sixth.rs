use super::{Chord, Key, Scale};

/// The pitch class of the sixth that may be added to a chord: over G the E, over C the A, over D the B.
/// `None` where the chord leaves no room for one.
///
/// A chord with a perfect fifth takes the major sixth; if its third is minor, only where the key has it,
/// as the dorian does. Common practice, no source.
pub fn added_sixth(chord: &Chord, key: Key) -> Option<u8> {
    const SIXTH: u8 = 9;
    let quality = chord.quality;
    let root = chord.root.pitch_class();
    let keys_own = Scale::of(key, chord).has(i32::from(root + SIXTH));
    let has_room = quality.fifth() == Some(7) && (!quality.is_minor() || keys_own);
    (has_room || quality.intervals().contains(&SIXTH)).then_some((root + SIXTH) % 12)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sixth_of_the_chord() {
        // E over G, A over C, B over D: common practice, no source.
        let (e, a, b, f_sharp) = (4, 9, 11, 6);
        for (key, chord, sixth) in [
            ("G", "G", Some(e)),
            ("G", "C", Some(a)),
            ("G", "D", Some(b)),
            ("G", "D7", Some(b)),
            ("Gm", "G", Some(e)),
            ("G", "Am", Some(f_sharp)),
            ("G", "Em", None),
            ("G", "Gaug", None),
            ("G", "F#m7b5", None),
            ("Am", "Am6", Some(f_sharp)),
        ] {
            let (key, chord) = (Key::parse(key).unwrap(), Chord::parse(chord).unwrap());
            assert_eq!(added_sixth(&chord, key), sixth, "{chord} in {key}");
        }
    }
}
