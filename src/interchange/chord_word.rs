//! Chord symbols as other formats and people write them.

use crate::theory::{Chord, PitchName, Quality};

/// A word that is a chord.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct ChordWord {
    /// The chord; `None` for none at all.
    pub chord: Option<Chord>,
    /// What had to be changed.
    pub said: Option<String>,
}

/// Reads a chord symbol; `None` if the word is none. One whose quality is unknown is played as what it is for certain:
/// major or minor.
pub(super) fn chord_word(text: &str) -> Option<ChordWord> {
    let text = text.trim().trim_start_matches('(').trim_end_matches(['.', '*', ' ']);
    let text = if text.contains('(') { text } else { text.trim_end_matches(')') };
    let plain = |chord| Some(ChordWord { chord, said: None });
    if matches!(text, "N.C" | "N.C." | "NC" | "n.c" | "nc" | "tacet") {
        return plain(None);
    }
    if let Ok(chord) = Chord::parse(text) {
        return plain(Some(chord));
    }
    let mut chars = text.chars();
    let first = chars.next()?;
    // `am`, `g7`: small letters, as some write all their chords.
    let upper: String = first.to_uppercase().chain(chars).collect();
    let (root, rest) = PitchName::read(&upper)?;
    if first.is_lowercase() {
        // A letter alone is a mark of loudness or a word.
        if rest.is_empty() {
            return None;
        }
        let chord = Chord::parse(&upper).ok()?;
        return plain(Some(chord));
    }
    let (body, bass) = match rest.rsplit_once('/') {
        Some((body, bass)) => (body, Some(bass)),
        None => (rest, None),
    };
    // Words that begin with a letter of a note are no chords.
    let tame = body.chars().all(|c| !c.is_whitespace()) && body.chars().count() <= 8;
    let lower = body.to_lowercase();
    let known_start = lower.is_empty()
        || ["m", "dim", "aug", "sus", "add", "no", "dom", "alt", "hdim", "o7"]
            .iter()
            .any(|it| lower.starts_with(it))
        || lower == "o"
        || lower.starts_with(|c: char| c.is_ascii_digit() || "+-#b^(°ø".contains(c));
    if !tame || !known_start {
        return None;
    }
    let minor = (body.starts_with('m') || body.starts_with('-')) && !lower.starts_with("ma");
    let quality = if lower.starts_with("dim") || body.starts_with('o') {
        Quality::parse("dim")
    } else if minor && lower.contains('7') {
        Quality::parse("m7")
    } else if minor {
        Some(Quality::MINOR)
    } else if lower.starts_with('7') || lower.starts_with("9") || lower.starts_with("1") {
        Quality::parse("7")
    } else {
        Some(Quality::MAJOR)
    }?;
    let bass = bass.and_then(|bass| PitchName::read(bass)).map(|(bass, _)| bass);
    let chord = Chord { root, quality, bass };
    Some(ChordWord {
        chord: Some(chord),
        said: Some(format!("the chord `{}` is played as {chord}", super::one_line(text))),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chords_are_told_from_words() {
        let read = |text| chord_word(text).map(|word| word.chord.map(|chord| chord.to_string()));
        let chord = |text: &str| Some(Some(text.to_owned()));
        assert_eq!(read("Am7"), chord("Am7"));
        assert_eq!(read("(D7)"), chord("D7"));
        assert_eq!(read("am"), chord("Am"));
        assert_eq!(read("G7alt"), chord("G7"));
        assert_eq!(read("Em7add11/B"), chord("Em7/B"));
        assert_eq!(read("N.C."), Some(None));
        for word in ["Fine", "Allegro", "D.C.", "4", "f", "Coda", "^G", "Da Capo", "Chorus"] {
            assert_eq!(read(word), None, "{word}");
        }
    }
}
