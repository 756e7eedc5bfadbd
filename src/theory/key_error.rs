use std::ops::Range;

use thiserror::Error;

use super::{Key, Mode, PitchName};
use crate::text::nearest;

/// Why a text is no key. The message says what is wrong, [`KeyError::range`] where in the text, and
/// [`KeyError::help`] what to write instead.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum KeyError {
    /// Nothing is written.
    #[error("the key is missing")]
    Empty,
    /// It begins with no note.
    #[error("no key starts with `{found}`")]
    Tonic {
        /// The first character.
        found: char,
        /// The key that is meant, if the home note is written as no home note is.
        instead: Option<Key>,
        /// Where it stands.
        range: Range<usize>,
    },
    /// What follows the tonic is no mode.
    #[error("`{found}` is no mode")]
    Mode {
        /// The tonic before it.
        tonic: PitchName,
        /// What is written.
        found: String,
        /// The key that is meant, if that is plain.
        instead: Option<Key>,
        /// Where it stands.
        range: Range<usize>,
    },
    /// It would need more than seven sharps or flats.
    #[error("no key signature has as many {} as {key} needs", if key.tonic.accidental > 0 { "sharps" } else { "flats" })]
    Signature {
        /// The key written.
        key: Key,
        /// The key that sounds the same.
        instead: Key,
        /// Where it stands.
        range: Range<usize>,
    },
}

impl KeyError {
    /// The bytes of the text at fault.
    pub fn range(&self) -> Range<usize> {
        match self {
            Self::Empty => 0..0,
            Self::Tonic { range, .. }
            | Self::Mode { range, .. }
            | Self::Signature { range, .. } => range.clone(),
        }
    }

    /// What to write instead, as one sentence without a full stop.
    pub fn help(&self) -> String {
        match self {
            Self::Tonic { found: 'a'..='g', instead: Some(key), .. } => {
                format!("write the home note as a capital: `{key}`")
            }
            Self::Empty | Self::Tonic { .. } => {
                "write a note from A to G, then a mode if it is not major: `G`, `Bb`, `F#m`, \
                 `A mixolydian`, `E dorian`"
                    .to_owned()
            }
            Self::Mode { instead: Some(key), .. } => format!("did you mean `{key}`?"),
            Self::Mode { tonic, instead: None, .. } => {
                format!("write `{tonic}`, `{tonic}m`, `{tonic} mixolydian` or `{tonic} dorian`")
            }
            Self::Signature { instead, .. } => {
                format!("write `{instead}`, which sounds the same")
            }
        }
    }

    pub(super) fn tonic(text: &str, start: usize) -> Self {
        match text.chars().next() {
            Some(found) => {
                let range = start..start + found.len_utf8();
                Self::Tonic { found, instead: meant(text), range }
            }
            None => Self::Empty,
        }
    }

    /// `text` is all of it, from the home note on.
    pub(super) fn mode(text: &str, tonic: PitchName, found: &str, range: Range<usize>) -> Self {
        Self::Mode { tonic, found: found.to_owned(), instead: meant(text), range }
    }

    pub(super) const fn signature(key: Key, instead: Key, range: Range<usize>) -> Self {
        Self::Signature { key, instead, range }
    }
}

/// The key that a player means who writes its home note small, its flat as a capital or in words, or
/// its mode with a slip.
fn meant(text: &str) -> Option<Key> {
    // A long text is not a slip of the pen, and is not worth the comparing.
    const LONGEST: usize = 24;
    let text = text.trim();
    if text.len() > LONGEST {
        return None;
    }
    let letter = text.chars().next().map(|c| c.to_ascii_uppercase());
    let letter = letter.filter(|letter| ('A'..='G').contains(letter))?;
    let rest = text.get(1..)?;
    let after = |word: &str| {
        let rest = rest.trim_start_matches([' ', '-']);
        let head = rest.get(..word.len()).filter(|head| head.eq_ignore_ascii_case(word))?;
        rest.get(head.len()..)
    };
    let marked = after("flat")
        .map(|rest| format!("b{rest}"))
        .or_else(|| after("sharp").map(|rest| format!("#{rest}")))
        .or_else(|| rest.strip_prefix('B').map(|rest| format!("b{rest}")))
        .unwrap_or_else(|| rest.to_owned());
    let (tonic, mode) = PitchName::read(&format!("{letter}{marked}"))
        .map(|(tonic, rest)| (tonic, rest.trim().to_owned()))?;
    let name = match mode.as_str() {
        "M" => Mode::Major.name(),
        "" => "",
        "m" => "m",
        word => nearest(word, Mode::ALL.map(Mode::name))?,
    };
    match Key::parse(&format!("{tonic} {name}")) {
        Ok(key) => Some(key),
        Err(KeyError::Signature { instead, .. }) => Some(instead),
        Err(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::theory::Key;

    #[test]
    fn an_error_says_where_what_and_what_instead() {
        for (text, at, message, help) in [
            (
                "G#",
                "G#",
                "no key signature has as many sharps as G# needs",
                "write `Ab`, which sounds the same",
            ),
            (
                "Fb dorian",
                "Fb dorian",
                "no key signature has as many flats as Fb dorian needs",
                "write `E dorian`, which sounds the same",
            ),
            (
                "A mixolidian",
                "mixolidian",
                "`mixolidian` is no mode",
                "did you mean `A mixolydian`?",
            ),
            (
                "A blues",
                "blues",
                "`blues` is no mode",
                "write `A`, `Am`, `A mixolydian` or `A dorian`",
            ),
            ("c", "c", "no key starts with `c`", "write the home note as a capital: `C`"),
            ("bb", "b", "no key starts with `b`", "write the home note as a capital: `Bb`"),
            ("em", "e", "no key starts with `e`", "write the home note as a capital: `Em`"),
            ("f# min", "f", "no key starts with `f`", "write the home note as a capital: `F#m`"),
            (
                "a mixolidian",
                "a",
                "no key starts with `a`",
                "write the home note as a capital: `A mixolydian`",
            ),
            ("BB", "B", "`B` is no mode", "did you mean `Bb`?"),
            ("B flat", "flat", "`flat` is no mode", "did you mean `Bb`?"),
            ("F sharp minor", "sharp minor", "`sharp minor` is no mode", "did you mean `F#m`?"),
            ("G maj", "maj", "`maj` is no mode", "did you mean `G`?"),
            ("GM", "M", "`M` is no mode", "did you mean `G`?"),
            ("A aeolian", "aeolian", "`aeolian` is no mode", "did you mean `Am`?"),
            (
                "H",
                "H",
                "no key starts with `H`",
                "write a note from A to G, then a mode if it is not major: `G`, `Bb`, `F#m`, `A mixolydian`, `E dorian`",
            ),
        ] {
            let error = Key::parse(text).unwrap_err();
            assert_eq!((&text[error.range()], error.to_string()), (at, message.to_owned()));
            assert_eq!(error.help(), help);
        }
    }
}
