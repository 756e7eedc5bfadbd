use crate::style::Degree;
use crate::theory::{Chord, Key, Scale};

/// How far above the chord's root a degree lies, in semitones. The sixth is the key's own where the
/// chord leaves the choice; a degree that the chord does not have is its root.
pub(super) fn interval(chord: &Chord, degree: Degree, key: Key) -> i32 {
    let quality = chord.quality;
    let chords_own = match degree {
        Degree::Root => Some(0),
        Degree::Octave => Some(12),
        Degree::Third => quality.third_or_suspended(),
        Degree::Fifth => quality.fifth(),
        Degree::Seventh => quality.seventh(),
        Degree::Sixth => {
            let (root, scale) = (i32::from(chord.root.pitch_class()), Scale::of(key, chord));
            let sharp = quality.intervals().contains(&9) || scale.has(root + 9);
            Some(if sharp || !scale.has(root + 8) { 9 } else { 8 })
        }
    };
    chords_own.map_or(0, i32::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sixth_is_the_keys_own() {
        let sixth = |key: &str, chord: &str| {
            let chord = Chord::parse(chord).unwrap();
            interval(&chord, Degree::Sixth, Key::parse(key).unwrap())
        };
        assert_eq!(sixth("G", "G"), 9, "E over G");
        assert_eq!(sixth("Am", "Am"), 8, "F over A minor");
        assert_eq!(sixth("A dorian", "Am"), 9, "F sharp in the dorian");
        assert_eq!(sixth("Am", "Am6"), 9, "the chord's own");
    }

    #[test]
    fn a_missing_degree_is_the_root() {
        let chord = Chord::parse("G5").unwrap();
        assert_eq!(interval(&chord, Degree::Seventh, Key::parse("G").unwrap()), 0);
    }
}
