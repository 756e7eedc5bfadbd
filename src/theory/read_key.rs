use super::key_error::KeyError;
use super::{Key, Mode, PitchName};

impl Key {
    /// Reads a key: `G`, `Bb`, `F#m`, `A minor`, `A mixolydian`, `E dorian`. Modes may begin with a
    /// capital.
    ///
    /// # Errors
    /// If the tonic or mode is unknown, or if the key would need more than seven sharps or flats: where
    /// in the text, and what to write instead.
    pub fn parse(text: &str) -> Result<Self, KeyError> {
        let trimmed = text.trim_start();
        let indent = text.len() - trimmed.len();
        let (tonic, rest) =
            PitchName::read(trimmed).ok_or_else(|| KeyError::tonic(trimmed, indent))?;
        let word = rest.trim();
        let start = text.len() - rest.trim_start().len();
        let range = start..start + word.len();
        // Case tells nothing in a word, but M after a tonic is no minor.
        let mode = match word {
            "" => Mode::Major,
            "m" | "min" => Mode::Minor,
            _ => Mode::ALL
                .into_iter()
                .find(|mode| mode.name().eq_ignore_ascii_case(word))
                .ok_or_else(|| KeyError::mode(trimmed, tonic, word, range))?,
        };
        let key = Self { tonic, mode };
        let sharps = key.sharps();
        if (-7..=7).contains(&sharps) {
            Ok(key)
        } else {
            let whole = indent..indent + trimmed.trim_end().len();
            Err(KeyError::signature(key, key.simpler(), whole))
        }
    }
}
