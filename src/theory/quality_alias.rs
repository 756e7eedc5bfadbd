/// Other spellings of a quality, and the name it goes by here.
///
/// Those of tests/reference/chord_aliases.jsonl, which more general music libraries read so than
/// otherwise, and the same marks put to the rest of their family: `-` and `min` for `m`, `M`, `ma` and
/// `Δ` for `maj`, `+` for a sharp fifth, `o` and `°` for diminished.
pub(super) const ALIASES: &[(&str, &str)] = &[
    ("maj", ""),
    ("Maj", ""),
    ("M", ""),
    ("major", ""),
    ("min", "m"),
    ("mi", "m"),
    ("-", "m"),
    ("minor", "m"),
    ("dom7", "7"),
    ("M7", "maj7"),
    ("Maj7", "maj7"),
    ("ma7", "maj7"),
    ("major7", "maj7"),
    ("^7", "maj7"),
    ("^", "maj7"),
    ("Δ", "maj7"),
    ("Δ7", "maj7"),
    ("△", "maj7"),
    ("△7", "maj7"),
    ("min7", "m7"),
    ("mi7", "m7"),
    ("-7", "m7"),
    ("+", "aug"),
    ("+7", "7#5"),
    ("aug7", "7#5"),
    ("7+5", "7#5"),
    ("7aug", "7#5"),
    ("7(#5)", "7#5"),
    ("7(b5)", "7b5"),
    ("o", "dim"),
    ("°", "dim"),
    ("o7", "dim7"),
    ("°7", "dim7"),
    ("-7b5", "m7b5"),
    ("min7b5", "m7b5"),
    ("mi7b5", "m7b5"),
    ("m7(b5)", "m7b5"),
    ("ø", "m7b5"),
    ("ø7", "m7b5"),
    ("sus", "sus4"),
    ("7sus", "7sus4"),
    ("9sus", "9sus4"),
    ("(add9)", "add9"),
    ("add2", "add9"),
    ("m(add9)", "madd9"),
    ("madd2", "madd9"),
    ("minadd9", "madd9"),
    ("6/9", "69"),
    ("6add9", "69"),
    ("m(maj7)", "mMaj7"),
    ("mmaj7", "mMaj7"),
    ("mM7", "mMaj7"),
    ("minmaj7", "mMaj7"),
    ("-M7", "mMaj7"),
    ("m/maj7", "mMaj7"),
    ("-Δ7", "mMaj7"),
    ("mΔ7", "mMaj7"),
    ("7(b9)", "7b9"),
    ("7(#9)", "7#9"),
    ("maj6", "6"),
    ("M6", "6"),
    ("min6", "m6"),
    ("mi6", "m6"),
    ("-6", "m6"),
    ("M9", "maj9"),
    ("Maj9", "maj9"),
    ("ma9", "maj9"),
    ("Δ9", "maj9"),
    ("min9", "m9"),
    ("mi9", "m9"),
    ("-9", "m9"),
    ("min11", "m11"),
    ("mi11", "m11"),
    ("-11", "m11"),
    ("M13", "maj13"),
    ("Maj13", "maj13"),
    ("ma13", "maj13"),
    ("no3", "5"),
    ("(no3)", "5"),
];

/// What a player means who writes a quality in words that are no sign of a chart, in small letters.
/// Likeness alone would take `dom` for `dim` and `sus7` for `sus4`. Common practice, no source.
const SLIPS: &[(&str, &str)] = &[
    ("min", "m"),
    ("min7", "m7"),
    ("minor", "m"),
    ("minor6", "m6"),
    ("minor7", "m7"),
    ("minor7b5", "m7b5"),
    ("minor9", "m9"),
    ("minor11", "m11"),
    ("mj", "maj"),
    ("mj7", "maj7"),
    ("mj9", "maj9"),
    ("major", "maj"),
    ("major6", "6"),
    ("major9", "maj9"),
    ("major13", "maj13"),
    ("dom", "7"),
    ("dom9", "9"),
    ("dominant", "7"),
    ("dominant7", "7"),
    ("7th", "7"),
    ("m7th", "m7"),
    ("sus7", "7sus4"),
    ("sus9", "9sus4"),
    ("suspended", "sus4"),
    ("diminished", "dim"),
    ("diminished7", "dim7"),
    ("halfdim", "m7b5"),
    ("augmented", "aug"),
];

/// The quality meant by a word of [`SLIPS`], in letters of either case.
pub(super) fn meant(found: &str) -> Option<&'static str> {
    let (_, name) = SLIPS.iter().find(|(slip, _)| slip.eq_ignore_ascii_case(found))?;
    Some(name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::Quality;

    #[test]
    fn every_slip_leads_to_a_quality() {
        for (slip, name) in SLIPS {
            assert!(Quality::parse(name).is_some(), "{slip} -> {name}");
            assert_eq!(*slip, slip.to_lowercase());
        }
    }
}
