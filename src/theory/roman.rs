//! Degrees in Roman numerals, which are no signs of a chart here but are told in digits.

use super::{Chord, Key, Letter, Mode, PitchName};

/// In the order of the degrees.
const NUMERALS: [&str; 7] = ["I", "II", "III", "IV", "V", "VI", "VII"];

/// What a text in Roman numerals is as a number: `4` for `IV`, `57` for `V7`, `6m` for `vi`. `None`
/// if it is no Roman numeral.
pub(super) fn in_digits(text: &str) -> Option<String> {
    /// No chord is as long.
    const LONGEST: usize = 16;
    if text.len() > LONGEST {
        return None;
    }
    let (chord, bass) = match text.rsplit_once('/') {
        Some((chord, bass)) => (chord, Some(bass)),
        None => (text, None),
    };
    let (degree, minor, quality) = degree(chord)?;
    // Small letters stand for a minor triad, unless what follows says which triad it is.
    let third = if minor && !quality.starts_with(|c: char| !c.is_ascii_digit()) { "m" } else { "" };
    let bass = match bass {
        Some(bass) => match self::degree(bass) {
            Some((bass, _, "")) => format!("/{bass}"),
            _ => format!("/{bass}"),
        },
        None => String::new(),
    };
    let whole = format!("{degree}{third}{quality}{bass}");
    // Any key will do to see whether it is read.
    let key = Key { tonic: PitchName::new(Letter::C, 0), mode: Mode::Major };
    Some(if Chord::parse_number(&whole, key).is_ok() { whole } else { degree })
}

/// The degree at the head of `text` in digits, whether it is in small letters, and the rest.
fn degree(text: &str) -> Option<(String, bool, &str)> {
    let roman = text.trim_start_matches(['b', '#', '♭', '♯']);
    let quality = roman.trim_start_matches(['I', 'V', 'i', 'v']);
    let (marks, numeral) =
        (text.strip_suffix(roman)?, roman.strip_suffix(quality).unwrap_or_default());
    let at = NUMERALS.iter().position(|known| known.eq_ignore_ascii_case(numeral))?;
    let minor = numeral.starts_with(['i', 'v']);
    Some((format!("{marks}{}", at + 1), minor, quality))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numerals_are_told_in_digits() {
        // Common practice, no source: capitals for major triads, small letters for minor ones.
        for (roman, digits) in [
            ("I", "1"),
            ("IV", "4"),
            ("V7", "57"),
            ("vi", "6m"),
            ("ii7", "2m7"),
            ("vii°", "7°"),
            ("IVmaj7", "4maj7"),
            ("bVII", "b7"),
            ("I/III", "1/3"),
            ("V/x", "5"),
            ("Vwow", "5"),
        ] {
            assert_eq!(in_digits(roman).as_deref(), Some(digits), "{roman}");
        }
        for other in ["", "G", "VIII", "b", "b7", "H", "x", "IIIIIIIIIIIIIIIIIIIII"] {
            assert_eq!(in_digits(other), None, "{other}");
        }
    }
}
