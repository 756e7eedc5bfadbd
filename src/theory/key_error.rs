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
        /// The mode it comes nearest to, if any is near.
        near: Option<&'static str>,
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
            Self::Tonic { found: small @ 'a'..='g', .. } => {
                format!("write the home note as a capital: `{}`", small.to_ascii_uppercase())
            }
            Self::Empty | Self::Tonic { .. } => {
                "write a note from A to G, then a mode if it is not major: `G`, `Bb`, `F#m`, \
                 `A mixolydian`, `E dorian`"
                    .to_owned()
            }
            Self::Mode { tonic, near: Some(near), .. } => format!("did you mean `{tonic} {near}`?"),
            Self::Mode { tonic, near: None, .. } => {
                format!("write `{tonic}`, `{tonic}m`, `{tonic} mixolydian` or `{tonic} dorian`")
            }
            Self::Signature { instead, .. } => {
                format!("write `{instead}`, which sounds the same")
            }
        }
    }

    pub(super) fn tonic(text: &str, start: usize) -> Self {
        match text.chars().next() {
            Some(found) => Self::Tonic { found, range: start..start + found.len_utf8() },
            None => Self::Empty,
        }
    }

    pub(super) fn mode(tonic: PitchName, found: &str, range: Range<usize>) -> Self {
        // A long text is not a slip of the pen, and is not worth the comparing.
        let near = (found.len() <= 24).then(|| nearest(found, Mode::ALL.map(Mode::name))).flatten();
        Self::Mode { tonic, found: found.to_owned(), near, range }
    }

    pub(super) const fn signature(key: Key, instead: Key, range: Range<usize>) -> Self {
        Self::Signature { key, instead, range }
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
