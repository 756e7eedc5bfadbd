use std::fmt;

use super::{Key, PitchName, Quality};

/// A chord: a root, a quality and, if one is written, the note under it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Chord {
    /// The root.
    pub root: PitchName,
    /// What stands on it.
    pub quality: Quality,
    /// The slash bass, if one is written.
    pub bass: Option<PitchName>,
}

impl Chord {
    /// A chord over its own root.
    pub const fn new(root: PitchName, quality: Quality) -> Self {
        Self { root, quality, bass: None }
    }

    /// The pitch classes of root and quality, root first, without a slash bass.
    pub fn tones(&self) -> impl Iterator<Item = u8> + Clone + use<> {
        let root = self.root.pitch_class();
        self.quality.intervals().iter().map(move |interval| (root + interval) % 12)
    }

    /// Every pitch class of the chord: those of [`Chord::tones`], then the slash bass if it is none of
    /// them.
    pub fn pitch_classes(&self) -> impl Iterator<Item = u8> + Clone + use<> {
        let foreign = self.bass.map(PitchName::pitch_class).filter(|&bass| !self.has_tone(bass));
        self.tones().chain(foreign)
    }

    /// The lowest note's pitch class: the slash bass, else the root.
    pub fn bass_class(&self) -> u8 {
        self.bass.unwrap_or(self.root).pitch_class()
    }

    /// True if the pitch class belongs to the chord, the slash bass counted.
    pub fn contains(&self, class: u8) -> bool {
        self.has_tone(class) || self.bass.is_some_and(|bass| bass.pitch_class() == class % 12)
    }

    fn has_tone(&self, class: u8) -> bool {
        self.tones().any(|tone| tone == class % 12)
    }
}

impl Key {
    /// The chord of the tonic: a minor triad in minor and dorian, else a major one.
    pub const fn tonic_chord(self) -> Chord {
        let minor = self.mode.has_minor_third();
        Chord::new(self.tonic, if minor { Quality::MINOR } else { Quality::MAJOR })
    }
}

impl fmt::Display for Chord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.root, self.quality)?;
        self.bass.map_or(Ok(()), |bass| write!(f, "/{bass}"))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::ChordError;
    use super::*;
    use crate::theory::Letter;

    fn key(text: &str) -> Key {
        Key::parse(text).unwrap()
    }

    #[test]
    fn symbols_are_read_and_written_back() {
        for (text, written) in [
            ("G", "G"),
            ("F#m7b5", "F#m7b5"),
            ("B♭maj7/D", "Bbmaj7/D"),
            ("C6/9", "C69"),
            ("C6/9/E", "C69/E"),
            ("Am/maj7", "AmMaj7"),
            ("E♭ø", "Ebm7b5"),
            ("D-/C", "Dm/C"),
            ("Bb5", "Bb5"),
        ] {
            assert_eq!(Chord::parse(text).unwrap().to_string(), written, "{text}");
        }
    }

    #[test]
    fn numbers_take_their_spelling_from_the_key() {
        for (in_key, number, symbol) in [
            ("G", "57", "D7"),
            ("G", "6-", "Em"),
            ("G", "2m7", "Am7"),
            ("G", "4maj7", "Cmaj7"),
            ("G", "#4dim", "C#dim"),
            ("G", "b77", "F7"),
            ("G", "169", "G69"),
            ("G", "16/9", "G69"),
            ("A mixolydian", "b7", "G"),
            ("A minor", "1m", "Am"),
            ("A minor", "b3", "C"),
            ("E dorian", "4", "A"),
            ("G", "1/b7", "G/F"),
            ("F#", "7dim", "E#dim"),
            // A published account of the numbers: in B flat 1/3 is Bb/D, 5/7 is F/A, 4/5 is Eb/F, and
            // b6 in A is F (Wikipedia, "Nashville Number System").
            ("Bb", "1/3", "Bb/D"),
            ("Bb", "5/7", "F/A"),
            ("Bb", "4/5", "Eb/F"),
            ("A", "b6", "F"),
        ] {
            let chord = Chord::read(number, key(in_key)).unwrap();
            assert_eq!(chord.to_string(), symbol, "{number} in {in_key}");
        }
    }

    #[test]
    fn pitch_classes_count_a_foreign_bass_once() {
        let classes = |text| Chord::parse(text).unwrap().pitch_classes().collect::<Vec<_>>();
        assert_eq!(classes("Am/F#"), [9, 0, 4, 6]);
        assert_eq!(classes("G/B"), [7, 11, 2]);
        assert_eq!(Chord::parse("G/B").unwrap().bass_class(), 11);
        assert!(Chord::parse("Am/F#").unwrap().contains(6));
    }

    pub(crate) fn any_name() -> impl Strategy<Value = PitchName> {
        (0..7usize, -2..=2i8)
            .prop_map(|(letter, accidental)| PitchName::new(Letter::ALL[letter], accidental))
    }

    fn any_chord() -> impl Strategy<Value = Chord> {
        let quality = (0..Quality::all().len()).prop_map(|i| Quality::all().nth(i).unwrap());
        (any_name(), quality, proptest::option::of(any_name()))
            .prop_map(|(root, quality, bass)| Chord { root, quality, bass })
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_back(chord in any_chord()) {
            prop_assert_eq!(Chord::parse(&chord.to_string()), Ok(chord));
        }

        #[test]
        fn no_text_is_too_strange(text in ".{0,12}") {
            check_error(&text, Chord::read(&text, key("G")));
        }

        #[test]
        fn nor_any_near_to_a_chord(text in "[A-Hb#♭1-9]{1,3}[-mMajdsu24679ø+°Δ(){b#/}]{0,6}") {
            check_error(&text, Chord::read(&text, key("Bb")));
        }
    }

    /// An error's range lies within the text, on whole characters, and help is given.
    fn check_error(text: &str, result: Result<Chord, ChordError>) {
        if let Err(error) = result {
            assert!(text.get(error.range()).is_some(), "{text:?} {error:?}");
            assert!(!error.to_string().is_empty() && !error.help().is_empty());
        }
    }
}
