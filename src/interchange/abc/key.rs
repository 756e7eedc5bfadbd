//! The key field (ABC 2.1, 3.1.14).

use crate::interchange::modes::{MODES, ModeRow, key_of, letters, sharps_of_major};
use crate::theory::{Key, Letter, Mode, PitchName};

/// A key as an ABC file has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct AbcKey {
    /// The key that the song is in.
    pub key: Key,
    /// What each letter is raised by, C first.
    pub letters: [i8; 7],
    /// The mode's name, if songs don't have it.
    pub foreign: Option<&'static str>,
    /// False where the field names no key.
    pub named: bool,
    /// Octaves and half steps by which what is written sounds higher.
    pub shift: i32,
}

const C_MAJOR: Key = Key { tonic: PitchName::new(Letter::C, 0), mode: Mode::Major };

impl AbcKey {
    pub(super) const NONE: Self =
        Self { key: C_MAJOR, letters: [0; 7], foreign: None, named: false, shift: 0 };

    /// Reads what stands in the field; `before` is the key in force, which a field of clefs alone leaves as it is.
    /// `None` if it can't be read.
    pub(super) fn read(text: &str, before: Option<&Self>) -> Option<Self> {
        let mut words = text.split_whitespace();
        let mut key = Self::NONE;
        let first = text.trim_start();
        let mut rest = first;
        if first.starts_with("HP") || first.starts_with("Hp") {
            // Highland pipes: F and C are sharp, and tunes are about A.
            let tonic = PitchName::new(Letter::A, 0);
            key.key = Key { tonic, mode: Mode::Mixolydian };
            key.letters = letters(2);
            key.named = true;
            rest = &first[2..];
        } else if first.is_empty() || first.starts_with("none") || first.starts_with("None") {
            rest = first.get(4..).unwrap_or_default();
        } else if let Some((tonic, after)) = tonic(first) {
            let (mode, after) = mode(after)?;
            let explicit = words.any(|word| word.eq_ignore_ascii_case("exp"));
            key.letters =
                if explicit { [0; 7] } else { letters(sharps_of_major(tonic) - mode.flatter) };
            key.key = key_of(tonic, mode.mode);
            key.foreign = (!mode.is_kept()).then_some(mode.name);
            key.named = true;
            rest = after;
        } else if let Some(before) = before {
            // Words about clefs alone.
            key = before.clone();
            key.shift = 0;
        } else if !first.contains('=') && !first.starts_with(['^', '_']) {
            return None;
        }
        for word in rest.split_whitespace() {
            key.take(word);
        }
        Some(key)
    }

    /// Takes a word that follows the key: an accidental, or what moves the octave.
    fn take(&mut self, word: &str) {
        let after = word.trim_start_matches(['^', '_', '=']);
        let marks = &word[..word.len() - after.len()];
        if let Some(letter) = after.chars().next().map(|c| c.to_ascii_uppercase())
            && after.len() == 1
            && !marks.is_empty()
            && let Some(letter) = Letter::parse(letter)
            && let Some(place) = self.letters.get_mut(letter as usize)
        {
            let raised = marks.matches('^').count() as i8 - marks.matches('_').count() as i8;
            *place = raised.clamp(-2, 2);
            return;
        }
        let number = |name: &str| -> Option<i32> { word.strip_prefix(name)?.parse().ok() };
        if let Some(octave) = number("octave=") {
            self.shift += 12 * octave.clamp(-4, 4);
        } else if let Some(steps) = number("transpose=").or_else(|| number("t=")) {
            self.shift += steps.clamp(-36, 36);
        } else if word.ends_with("-8") && word.contains(|c: char| c.is_alphabetic()) {
            self.shift -= 12;
        } else if word.ends_with("+8") {
            self.shift += 12;
        }
    }
}

/// The tonic: a letter, in real files a small one too, with a sharp or a flat.
fn tonic(text: &str) -> Option<(PitchName, &str)> {
    let first = text.chars().next()?;
    let letter = Letter::parse(first.to_ascii_uppercase())?;
    let rest = &text[1..];
    // `bass` and `clef` are no keys.
    if first.is_ascii_lowercase()
        && rest.starts_with(|c: char| c.is_ascii_lowercase() && c != 'm' && c != 'b')
    {
        return None;
    }
    if ["bass", "clef", "alto", "treble", "perc", "staff", "middle"]
        .iter()
        .any(|word| text.starts_with(word))
    {
        return None;
    }
    let (accidental, rest) = match rest.chars().next() {
        Some('#' | '♯') => (1, rest.trim_start_matches(['#', '♯'])),
        Some('b' | '♭') => (-1, rest.trim_start_matches(['b', '♭'])),
        _ => (0, rest),
    };
    Some((PitchName::new(letter, accidental), rest))
}

/// The mode, of which three letters are enough, and what follows it. Nothing is major; what is no mode is left.
fn mode(text: &str) -> Option<(&'static ModeRow, &str)> {
    let major = MODES.first()?;
    let start = text.trim_start();
    let word: String =
        start.chars().take_while(|c| c.is_alphabetic()).collect::<String>().to_lowercase();
    let after = start.get(word.len()..).unwrap_or_default();
    if word == "m" {
        return MODES.iter().find(|row| row.short == "min").map(|row| (row, after));
    }
    let short = word.get(..3).unwrap_or_default();
    match MODES.iter().find(|row| row.short == short) {
        // `middle=` and `minor` begin alike only as far as two letters.
        Some(row) => Some((row, after)),
        None => Some((major, text)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_read_as_the_standard_has_them() {
        let read = |text: &str| {
            let key = AbcKey::read(text, None).unwrap();
            let marks: i8 = key.letters.iter().sum();
            format!("{} {marks}", key.key)
        };
        for (text, meant) in [
            ("G", "G 1"),
            ("Gmaj", "G 1"),
            ("A minor", "Am 0"),
            ("Amix", "A mixolydian 2"),
            ("E Dorian clef=treble", "E dorian 2"),
            ("F#m", "F#m 3"),
            ("Bb", "Bb -2"),
            ("F Lyd", "F 0"),
            ("E phrygian", "Em 0"),
            ("D exp ^f", "D 1"),
            ("Gm ^f", "Gm -1"),
            ("HP", "A mixolydian 2"),
            ("none", "C 0"),
            ("g", "G 1"),
        ] {
            assert_eq!(read(text), meant, "{text}");
        }
        assert_eq!(AbcKey::read("Gmaj octave=-1", None).unwrap().shift, -12);
        assert!(AbcKey::read("???", None).is_none());
        let g = AbcKey::read("G", None);
        assert_eq!(AbcKey::read("clef=bass", g.as_ref()).unwrap().key, g.unwrap().key);
    }
}
