//! Kinds of harmony (`kind-value` and `degree`), and the qualities of our own chords.

use crate::theory::Quality;

/// A degree that is added or altered: which, by how many half steps, and whether it is added.
pub(super) type Degree = (u8, i8, bool);

/// A quality by its name here, the kind it is, and the degrees beside that.
type Row = (&'static str, &'static str, &'static [Degree]);

/// The first row of a quality is how it is written.
const ROWS: [Row; 36] = [
    ("", "major", &[]),
    ("m", "minor", &[]),
    ("7", "dominant", &[]),
    ("maj7", "major-seventh", &[]),
    ("m7", "minor-seventh", &[]),
    ("mMaj7", "major-minor", &[]),
    ("6", "major-sixth", &[]),
    ("m6", "minor-sixth", &[]),
    ("69", "major-sixth", &[(9, 0, true)]),
    ("9", "dominant-ninth", &[]),
    ("maj9", "major-ninth", &[]),
    ("m9", "minor-ninth", &[]),
    ("add9", "major", &[(9, 0, true)]),
    ("madd9", "minor", &[(9, 0, true)]),
    ("sus2", "suspended-second", &[]),
    ("sus4", "suspended-fourth", &[]),
    ("7sus4", "suspended-fourth", &[(7, 0, true)]),
    ("9sus4", "suspended-fourth", &[(7, 0, true), (9, 0, true)]),
    ("5", "power", &[]),
    ("dim", "diminished", &[]),
    ("dim7", "diminished-seventh", &[]),
    ("m7b5", "half-diminished", &[]),
    ("aug", "augmented", &[]),
    ("7b5", "dominant", &[(5, -1, false)]),
    ("7#5", "augmented-seventh", &[]),
    ("7#5", "dominant", &[(5, 1, false)]),
    ("7b9", "dominant", &[(9, -1, true)]),
    ("7#9", "dominant", &[(9, 1, true)]),
    ("11", "dominant-11th", &[]),
    ("m11", "minor-11th", &[]),
    ("13", "dominant-13th", &[]),
    ("maj13", "major-13th", &[]),
    // Others' ways to write the same.
    ("7sus4", "dominant", &[(4, 0, true)]),
    ("m7b5", "minor-seventh", &[(5, -1, false)]),
    ("7", "major", &[(7, -1, true)]),
    ("add9", "major", &[(2, 0, true)]),
];

/// Kinds that no quality here is, and the nearest.
const NEAREST: [(&str, &str); 9] = [
    ("major-11th", "maj9"),
    ("minor-13th", "m11"),
    ("pedal", ""),
    ("Neapolitan", ""),
    ("Italian", "7"),
    ("French", "7b5"),
    ("German", "7"),
    ("Tristan", "m7b5"),
    ("other", ""),
];

/// How a quality is written.
pub(super) fn written(quality: Quality) -> (&'static str, &'static [Degree]) {
    let row = ROWS.iter().find(|(name, ..)| *name == quality.name());
    row.map_or(("other", &[]), |(_, kind, degrees)| (kind, degrees))
}

/// The quality of a kind with degrees, and whether it is just that.
pub(super) fn read(kind: &str, degrees: &[Degree]) -> Option<(Quality, bool)> {
    let exact = ROWS.iter().find(|(_, of, with)| *of == kind && *with == degrees);
    let plain = ROWS.iter().find(|(_, of, with)| *of == kind && with.is_empty());
    let near = NEAREST.iter().find(|(of, _)| *of == kind);
    let name = exact.or(plain).map(|(name, ..)| *name).or(near.map(|(_, name)| *name))?;
    Some((Quality::parse(name)?, exact.is_some()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_quality_comes_back() {
        for quality in Quality::all() {
            let (kind, degrees) = written(quality);
            assert_ne!(kind, "other", "{quality:?}");
            assert_eq!(read(kind, degrees), Some((quality, true)));
        }
    }
}
