//! What the lines of a chord sheet are.

use std::ops::Range;

use crate::interchange::chord_word::chord_word;
use crate::interchange::leads::lead_called;

/// A word and where it stands in its line.
pub(super) fn words(line: &str) -> impl Iterator<Item = (Range<usize>, &str)> {
    line.split_whitespace().map(move |word| {
        let start = word.as_ptr() as usize - line.as_ptr() as usize;
        (start..start + word.len(), word)
    })
}

/// `x2`, `(x3)`, `2x`: how often a line is played.
pub(super) fn times(word: &str) -> Option<u32> {
    let word = word.trim_matches(['(', ')']);
    let number =
        word.strip_prefix(['x', 'X', '×']).or_else(|| word.strip_suffix(['x', 'X', '×']))?;
    number.parse().ok().filter(|times| (1..=8).contains(times))
}

/// True if a line has nothing but chords, holds and signs.
pub(super) fn is_chords(line: &str) -> bool {
    let mut chords = 0;
    for (_, word) in words(line) {
        let small = word.starts_with(|c: char| c.is_lowercase());
        match word {
            "/" | "%" | "-" | "." | "–" => {}
            _ if word.chars().all(|c| "|:".contains(c)) => {}
            _ if times(word).is_some() => {}
            _ if !small && chord_word(word).is_some_and(|read| read.said.is_none()) => chords += 1,
            _ => return false,
        }
    }
    chords > 0
}

/// True if a line has bar lines.
pub(super) fn is_barred(line: &str) -> bool {
    let count = line.matches('|').count();
    count >= 2 || count == 1 && is_chords(&line.replace('|', " "))
}

/// The parts of a song as people head them.
const HEADINGS: [&str; 18] = [
    "verse",
    "chorus",
    "bridge",
    "intro",
    "outro",
    "refrain",
    "break",
    "solo",
    "tag",
    "ending",
    "instrumental",
    "interlude",
    "pre-chorus",
    "prechorus",
    "turnaround",
    "turn",
    "coda",
    "part",
];

/// The heading that a line is: `[Verse 1]`, `Chorus:`, `BRIDGE`, `Part A`.
pub(super) fn heading(line: &str) -> Option<String> {
    let line = line.trim();
    let bracketed = line.starts_with('[') && line.ends_with(']')
        || line.starts_with('{') && line.ends_with('}');
    let inner = line.trim_matches(['[', ']', '{', '}', '(', ')']).trim_end_matches(':').trim();
    let lower = inner.to_lowercase();
    let first = lower.split(|c: char| !c.is_alphabetic() && c != '-').next().unwrap_or_default();
    let second = lower.split_whitespace().nth(1).unwrap_or_default();
    // `Fiddle break`.
    let taken = lead_called(first).is_some() && ["break", "solo"].contains(&second);
    let known = HEADINGS.contains(&first) || taken;
    let short = inner.split_whitespace().count() <= 3 && inner.chars().count() <= 30;
    let letter = line.ends_with(':') && inner.chars().count() == 1;
    if short
        && (known || letter || bracketed && !is_chords(inner))
        && !inner.is_empty()
        && !line.contains('|')
    {
        return Some(lower);
    }
    None
}

/// A field of the head: `Key: G`.
pub(super) fn field(line: &str) -> Option<(&'static str, &str)> {
    const FIELDS: [(&str, &str); 15] = [
        ("title", "title"),
        ("song", "title"),
        ("key", "key"),
        ("capo", "capo"),
        ("time", "meter"),
        ("meter", "meter"),
        ("time signature", "meter"),
        ("tempo", "tempo"),
        ("bpm", "tempo"),
        ("by", "composer"),
        ("composer", "composer"),
        ("written by", "composer"),
        ("artist", "composer"),
        ("style", "rhythm"),
        ("rhythm", "rhythm"),
    ];
    let (name, value) = line.split_once([':', '='])?;
    let name = name.trim().to_lowercase();
    let (_, field) = FIELDS.iter().find(|(known, _)| *known == name)?;
    Some((field, value.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_told_apart() {
        for line in ["G   C  D7", "| G | % |", "Am F/A x2", "G / / D"] {
            assert!(is_chords(line), "{line}");
        }
        for line in ["A lantern on the landing", "Am I late", "Go down", "", "x2", "a b c"] {
            assert!(!is_chords(line), "{line}");
        }
        assert_eq!(heading("[Verse 1]").as_deref(), Some("verse 1"));
        assert_eq!(heading("CHORUS:").as_deref(), Some("chorus"));
        assert_eq!(heading("Verse of a kind that nobody sang"), None);
        assert_eq!(heading("Mandolin solo:").as_deref(), Some("mandolin solo"));
        assert_eq!(heading("Mandolin in the hall"), None);
        assert_eq!(heading("[G]"), None);
        assert_eq!(field("Key: G"), Some(("key", "G")));
        assert_eq!(times("(x2)"), Some(2));
    }
}
