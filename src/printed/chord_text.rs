use std::fmt;

use crate::theory::{Chord, Key, PitchName, degree};

/// A chord as it stands on paper, in the parts that are set differently: `F♯`, `m`, `7♭5`, `/A`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ChordText {
    /// The root, by name or number; `N.C.` for no chord.
    pub root: String,
    /// `m`, or empty.
    pub minor: &'static str,
    /// What is raised beside it.
    pub raised: String,
    /// The slash and the note under it, or empty.
    pub bass: String,
}

impl ChordText {
    /// By its name, or that there is none.
    pub fn name(chord: Option<&Chord>) -> Self {
        Self::with(chord, |note| note_name(&note.to_string()))
    }

    /// By its number in a key.
    pub fn number(chord: Option<&Chord>, key: Key) -> Self {
        Self::with(chord, |note| signs(&degree(note, key)))
    }

    fn with(chord: Option<&Chord>, called: impl Fn(PitchName) -> String) -> Self {
        let Some(chord) = chord else {
            return Self { root: "N.C.".to_owned(), ..Self::default() };
        };
        let quality = chord.quality.to_string();
        let (minor, raised) = match quality.strip_prefix('m') {
            Some(rest) if !quality.starts_with("maj") => ("m", rest),
            _ => ("", quality.as_str()),
        };
        let bass = chord.bass.map_or_else(String::new, |bass| format!("/{}", called(bass)));
        Self { root: called(chord.root), minor, raised: signs(raised), bass }
    }
}

impl fmt::Display for ChordText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}{}{}", self.root, self.minor, self.raised, self.bass)
    }
}

/// A note's name with its sharps and flats as music has them.
pub(super) fn note_name(name: &str) -> String {
    let mut letters = name.chars();
    let first: String = letters.next().into_iter().collect();
    first + &signs(letters.as_str())
}

fn signs(text: &str) -> String {
    text.replace('#', "♯").replace('b', "♭")
}

/// A key in words: `B♭`, `F♯ minor`, `A mixolydian`.
pub(super) fn key_name(key: Key) -> String {
    let tonic = note_name(&key.tonic.to_string());
    match key.mode {
        crate::theory::Mode::Major => tonic,
        mode => format!("{tonic} {}", mode.name()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chords_have_the_signs_of_music() {
        let key = Key::parse("Bb").unwrap();
        for (chord, name, number) in [
            ("Bb", "B♭", "1"),
            ("F#m7b5", "F♯m7♭5", "♯5m7♭5"),
            ("Ab/C", "A♭/C", "♭7/2"),
            ("F7", "F7", "57"),
            ("Ebmaj7", "E♭maj7", "4maj7"),
            ("GmMaj7", "GmMaj7", "6mMaj7"),
            ("Bdim7", "Bdim7", "♯1dim7"),
            ("Csus4", "Csus4", "2sus4"),
            ("D7#9", "D7♯9", "37♯9"),
        ] {
            let chord = Chord::parse(chord).unwrap();
            assert_eq!(ChordText::name(Some(&chord)).to_string(), name);
            assert_eq!(ChordText::number(Some(&chord), key).to_string(), number);
        }
        assert_eq!(ChordText::number(None, key).to_string(), "N.C.");
        assert_eq!(key_name(Key::parse("F#m").unwrap()), "F♯ minor");
    }
}
