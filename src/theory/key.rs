use std::fmt;

use super::PitchName;

/// The modes that string-band tunes are in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Mode {
    Major,
    Minor,
    Mixolydian,
    Dorian,
}

impl Mode {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Major, Self::Minor, Self::Mixolydian, Self::Dorian];

    /// Semitones above the tonic, degree by degree. Minor is the natural minor.
    pub const fn intervals(self) -> [i32; 7] {
        match self {
            Self::Major => [0, 2, 4, 5, 7, 9, 11],
            Self::Minor => [0, 2, 3, 5, 7, 8, 10],
            Self::Mixolydian => [0, 2, 4, 5, 7, 9, 10],
            Self::Dorian => [0, 2, 3, 5, 7, 9, 10],
        }
    }

    /// The word for it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Major => "major",
            Self::Minor => "minor",
            Self::Mixolydian => "mixolydian",
            Self::Dorian => "dorian",
        }
    }

    /// True if the chord on the tonic is minor.
    pub const fn has_minor_third(self) -> bool {
        matches!(self, Self::Minor | Self::Dorian)
    }

    /// How many sharps less its signature has than the major key of the same tonic.
    const fn flatter_than_major(self) -> i32 {
        match self {
            Self::Major => 0,
            Self::Mixolydian => 1,
            Self::Dorian => 2,
            Self::Minor => 3,
        }
    }
}

/// A tonic and a mode.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Key {
    /// The home note.
    pub tonic: PitchName,
    /// The mode.
    pub mode: Mode,
}

impl Key {
    /// The seven notes from the tonic up, each with its own letter.
    pub fn scale(self) -> [PitchName; 7] {
        let mut scale = [self.tonic; 7];
        for ((note, step), interval) in scale.iter_mut().zip(0..).zip(self.mode.intervals()) {
            let class = i32::from(self.tonic.pitch_class()) + interval;
            *note = PitchName::spelled(self.tonic.letter.step(step), class);
        }
        scale
    }

    /// Sharps of the signature if positive, flats if negative; past seven for keys nobody writes.
    pub(super) fn sharps(self) -> i32 {
        // F C G D A E B stand a fifth apart, and so do their signatures, one sharp each.
        let fifths = [0, 2, 4, -1, 1, 3, 5][self.tonic.letter as usize];
        fifths + 7 * i32::from(self.tonic.accidental) - self.mode.flatter_than_major()
    }

    /// The same sounding key with its tonic on the neighbouring letter, fewer accidentals.
    pub(super) fn simpler(self) -> Self {
        let toward = if self.sharps() > 0 { 1 } else { -1 };
        let letter = self.tonic.letter.step(toward);
        let tonic = PitchName::spelled(letter, i32::from(self.tonic.pitch_class()));
        Self { tonic, mode: self.mode }
    }

    /// The key of the same mode so many half steps up (down if negative), spelled with the fewest
    /// sharps or flats; where both have six, sharps going up and flats going down.
    #[must_use]
    pub fn moved(self, half_steps: i32) -> Self {
        let class = (i32::from(self.tonic.pitch_class()) + half_steps).rem_euclid(12);
        let named = (0..7).map(|step| {
            let tonic = PitchName::spelled(self.tonic.letter.step(step), class);
            Self { tonic, mode: self.mode }
        });
        let plain = named.filter(|key| key.tonic.accidental.abs() <= 1);
        let best = plain.min_by_key(|key| {
            let sharps = key.sharps();
            (sharps.abs(), if half_steps < 0 { sharps } else { -sharps })
        });
        best.unwrap_or(self)
    }

    /// The key signature as FF 59 of the Standard MIDI File has it: sharps (positive) or flats
    /// (negative), -7 to 7, and true for minor.
    ///
    /// FF 59 knows major and minor alone, so a modal tune has the signature of the major key whose
    /// notes it uses: A mixolydian that of D, E dorian that of D, both marked major. A key that would
    /// need more than seven is given as the one that sounds the same.
    pub fn signature(self) -> (i8, bool) {
        let mut sharps = self.sharps();
        if !(-7..=7).contains(&sharps) {
            // Twelve fifths come round to the same sound.
            sharps = (sharps + 5).rem_euclid(12) - 5;
        }
        (sharps as i8, self.mode == Mode::Minor)
    }

    /// True if the signature has flats.
    pub fn flats(self) -> bool {
        self.signature().0 < 0
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.mode {
            Mode::Major => write!(f, "{}", self.tonic),
            Mode::Minor => write!(f, "{}m", self.tonic),
            Mode::Mixolydian | Mode::Dorian => write!(f, "{} {}", self.tonic, self.mode.name()),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::KeyError;
    use super::*;

    fn key(text: &str) -> Key {
        Key::parse(text).unwrap()
    }

    #[test]
    fn a_key_moves_by_half_steps_in_plain_spelling() {
        let moved = |key: &str, by| Key::parse(key).unwrap().moved(by).to_string();
        let up: Vec<String> = (0..12).map(|by| moved("C", by)).collect();
        assert_eq!(up, ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]);
        assert_eq!(moved("G", -1), "Gb");
        assert_eq!(moved("Em", 1), "Fm");
        assert_eq!(moved("A mixolydian", -2), "G mixolydian");
        assert_eq!(moved("G", 12), "G");
    }

    #[test]
    fn keys_are_read_and_written_back() {
        for (text, written) in [
            ("G", "G"),
            ("B♭", "Bb"),
            ("F#m", "F#m"),
            ("A minor", "Am"),
            ("Amin", "Am"),
            (" C Major ", "C"),
            ("A Mixolydian", "A mixolydian"),
            ("E dorian", "E dorian"),
        ] {
            assert_eq!(key(text).to_string(), written);
            assert_eq!(key(written), key(text));
        }
    }

    #[test]
    fn scales_have_every_letter_once() {
        let scale = |text| key(text).scale().map(|note| note.to_string()).join(" ");
        assert_eq!(scale("G"), "G A B C D E F#");
        assert_eq!(scale("F#"), "F# G# A# B C# D# E#");
        assert_eq!(scale("Cm"), "C D Eb F G Ab Bb");
        assert_eq!(scale("A mixolydian"), "A B C# D E F# G");
        assert_eq!(scale("E dorian"), "E F# G A B C# D");
    }

    #[test]
    fn modal_keys_have_their_parents_signature() {
        assert_eq!(key("A mixolydian").signature(), (2, false));
        assert_eq!(key("E dorian").signature(), (2, false));
        assert_eq!(key("D mixolydian").signature(), (1, false));
        assert_eq!(key("D dorian").signature(), (0, false));
        assert_eq!(key("G").tonic_chord().to_string(), "G");
        assert_eq!(key("E dorian").tonic_chord().to_string(), "Em");
        assert!(key("Dm").flats() && !key("Am").flats() && !key("E").flats());
    }

    proptest! {
        #[test]
        fn no_text_is_too_strange(text in ".{0,16}") {
            check(&text);
        }

        #[test]
        fn nor_any_near_to_a_key(text in " ?[A-H][#b]{0,3} ?(m|minor|dorian|mixolidian|Major|é)? ?") {
            check(&text);
        }
    }

    fn check(text: &str) {
        match Key::parse(text) {
            Ok(key) => {
                assert_eq!(Key::parse(&key.to_string()), Ok(key));
                // As many sharps or flats in the scale as in the signature.
                let marks: i32 = key.scale().iter().map(|note| i32::from(note.accidental)).sum();
                assert_eq!(marks, i32::from(key.signature().0), "{text}");
            }
            Err(error) => {
                assert!(text.get(error.range()).is_some(), "{text:?} {error:?}");
                assert!(!error.help().is_empty());
                if let KeyError::Signature { instead, .. } = error {
                    assert_eq!(Key::parse(&instead.to_string()), Ok(instead), "{text}");
                }
            }
        }
    }
}
