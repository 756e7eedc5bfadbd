//! What kind of chord stands on a root.
//!
//! Two symbols are read differently by different books, and so are chosen here for plucked strings,
//! where a hand has four fingers and two adjacent semitones jar:
//!
//! - `11` has no third: the third lies a semitone under the eleventh. It is played as the ninth chord
//!   with its fourth, the same notes as `9sus4`. `m11` keeps its third, a whole tone away.
//! - `13` and `maj13` have a ninth and no eleventh, for the same reason.
//! - A `2` or `4` straight after the root is refused: it is read as an added note by some and as a
//!   suspension by others. Write `add9`, `sus2` or `sus4`.

use std::fmt;

use super::quality_alias::ALIASES;

/// What kind of chord: major, minor, dominant seventh and so on. One row of a fixed table.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Quality(u8);

struct Row {
    name: &'static str,
    /// Semitones above the root, ascending.
    intervals: &'static [u8],
    /// The same, from the note that the ear needs most to the one it misses least.
    needed: &'static [u8],
}

const fn row(name: &'static str, intervals: &'static [u8], needed: &'static [u8]) -> Row {
    Row { name, intervals, needed }
}

/// The intervals are those on which general music libraries agree (tests/reference/chords.jsonl),
/// but for `11`, `m11`, `13` and `maj13`, where they differ; see the head of this file.
///
/// The order of need is common practice, no source: what names the chord comes first (the third or
/// what is suspended for it, the seventh, an altered fifth, the colour), then the root, which a bass
/// has as well, and a perfect fifth last.
const ROWS: [Row; 31] = [
    row("", &[0, 4, 7], &[4, 0, 7]),
    row("m", &[0, 3, 7], &[3, 0, 7]),
    row("7", &[0, 4, 7, 10], &[4, 10, 0, 7]),
    row("maj7", &[0, 4, 7, 11], &[4, 11, 0, 7]),
    row("m7", &[0, 3, 7, 10], &[3, 10, 0, 7]),
    row("mMaj7", &[0, 3, 7, 11], &[3, 11, 0, 7]),
    row("6", &[0, 4, 7, 9], &[4, 9, 0, 7]),
    row("m6", &[0, 3, 7, 9], &[3, 9, 0, 7]),
    row("69", &[0, 2, 4, 7, 9], &[4, 9, 2, 0, 7]),
    row("9", &[0, 2, 4, 7, 10], &[4, 10, 2, 0, 7]),
    row("maj9", &[0, 2, 4, 7, 11], &[4, 11, 2, 0, 7]),
    row("m9", &[0, 2, 3, 7, 10], &[3, 10, 2, 0, 7]),
    row("add9", &[0, 2, 4, 7], &[4, 2, 0, 7]),
    row("madd9", &[0, 2, 3, 7], &[3, 2, 0, 7]),
    row("sus2", &[0, 2, 7], &[2, 0, 7]),
    row("sus4", &[0, 5, 7], &[5, 0, 7]),
    row("7sus4", &[0, 5, 7, 10], &[5, 10, 0, 7]),
    row("9sus4", &[0, 2, 5, 7, 10], &[5, 10, 2, 0, 7]),
    row("5", &[0, 7], &[7, 0]),
    row("dim", &[0, 3, 6], &[3, 6, 0]),
    row("dim7", &[0, 3, 6, 9], &[3, 9, 6, 0]),
    row("m7b5", &[0, 3, 6, 10], &[3, 10, 6, 0]),
    row("aug", &[0, 4, 8], &[4, 8, 0]),
    row("7b5", &[0, 4, 6, 10], &[4, 10, 6, 0]),
    row("7#5", &[0, 4, 8, 10], &[4, 10, 8, 0]),
    row("7b9", &[0, 1, 4, 7, 10], &[4, 10, 1, 0, 7]),
    row("7#9", &[0, 3, 4, 7, 10], &[4, 10, 3, 0, 7]),
    row("11", &[0, 2, 5, 7, 10], &[5, 10, 2, 0, 7]),
    row("m11", &[0, 2, 3, 5, 7, 10], &[3, 10, 5, 0, 2, 7]),
    row("13", &[0, 2, 4, 7, 9, 10], &[4, 10, 9, 0, 2, 7]),
    row("maj13", &[0, 2, 4, 7, 9, 11], &[4, 11, 9, 0, 2, 7]),
];

impl Quality {
    /// A major triad.
    pub const MAJOR: Self = Self(0);
    /// A minor triad.
    pub const MINOR: Self = Self(1);

    /// Every quality.
    pub fn all() -> impl ExactSizeIterator<Item = Self> + Clone {
        (0..ROWS.len() as u8).map(Self)
    }

    /// From what is written after a root, in any of the usual spellings; `♯` and `♭` count as `#` and
    /// `b`. `None` if no quality is written so.
    pub fn parse(text: &str) -> Option<Self> {
        let unicode = text.contains(['♯', '♭']);
        let plain = unicode.then(|| text.replace('♯', "#").replace('♭', "b"));
        let text = plain.as_deref().unwrap_or(text);
        let named = |name: &str| Self::all().find(|quality| quality.name() == name);
        named(text).or_else(|| {
            let (_, name) = ALIASES.iter().find(|(alias, _)| *alias == text)?;
            named(name)
        })
    }

    const fn row(self) -> &'static Row {
        // In range: a number past the table cannot be made outside this file.
        &ROWS[self.0 as usize]
    }

    /// What this program writes after the root: `m7`, `sus4`; nothing for a major triad.
    pub const fn name(self) -> &'static str {
        self.row().name
    }

    /// Semitones above the root, root first, ascending, all below 12: a ninth stands as 2.
    pub const fn intervals(self) -> &'static [u8] {
        self.row().intervals
    }

    /// The same intervals from the one that the ear needs most to the one it misses least. Where a
    /// hand cannot reach them all, they are left out from the end of this.
    pub const fn by_need(self) -> &'static [u8] {
        self.row().needed
    }

    /// What names the chord and is left out last: the third or its suspension, the seventh, the
    /// colour, an altered fifth. A bare fifth is named by both its notes. Most needed first, three at
    /// most.
    pub fn essential(self) -> &'static [u8] {
        let needed = self.by_need();
        match needed.iter().position(|&interval| interval == 0) {
            Some(before_root) if needed.len() > 2 => needed.get(..before_root).unwrap_or(needed),
            _ => needed,
        }
    }

    fn has(self, interval: u8) -> bool {
        self.intervals().contains(&interval)
    }

    /// The third: 4 major, 3 minor; none in a suspension, an eleventh or a bare fifth.
    pub fn third(self) -> Option<u8> {
        // The sharp ninth of 7#9 is a 3 beside the real third, so the major third is asked first.
        [4, 3].into_iter().find(|&third| self.has(third))
    }

    /// What stands for the third: the third itself, else the fourth, else the second.
    pub fn third_or_suspended(self) -> Option<u8> {
        self.third().or_else(|| [5, 2].into_iter().find(|&note| self.has(note)))
    }

    /// The fifth: 7 perfect, 6 flat, 8 sharp.
    pub fn fifth(self) -> Option<u8> {
        [7, 6, 8].into_iter().find(|&fifth| self.has(fifth))
    }

    /// The seventh: 11 major, 10 minor, 9 in a diminished seventh chord.
    pub fn seventh(self) -> Option<u8> {
        let diminished = self.name() == "dim7";
        [11, 10].into_iter().find(|&seventh| self.has(seventh)).or(diminished.then_some(9))
    }

    /// True if the third is minor.
    pub fn is_minor(self) -> bool {
        self.third() == Some(3)
    }
}

impl fmt::Display for Quality {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl fmt::Debug for Quality {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Quality({:?})", self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_in_order() {
        for quality in Quality::all() {
            let intervals = quality.intervals();
            assert_eq!(intervals[0], 0, "{quality:?}");
            assert!(intervals.is_sorted_by(|a, b| a < b) && intervals.iter().all(|&i| i < 12));
            let mut needed = quality.by_need().to_vec();
            needed.sort_unstable();
            assert_eq!(needed, intervals, "{quality:?}");
            assert_eq!(Quality::parse(quality.name()), Some(quality));
            assert!(quality.fifth().is_some());
            assert!((1..=3).contains(&quality.essential().len()));
            assert_eq!(quality.essential()[0], quality.third_or_suspended().unwrap_or(7));
        }
    }

    #[test]
    fn every_alias_names_a_quality_and_none_twice() {
        for (i, (alias, name)) in ALIASES.iter().enumerate() {
            assert!(Quality::all().any(|quality| quality.name() == *name), "{alias} -> {name}");
            assert!(Quality::all().all(|quality| quality.name() != *alias), "{alias}");
            assert!(ALIASES[..i].iter().all(|(other, _)| other != alias), "{alias}");
        }
    }

    #[test]
    fn degrees() {
        let of = |name: &str| {
            let q = Quality::parse(name).unwrap();
            (q.third(), q.fifth(), q.seventh(), q.is_minor())
        };
        assert_eq!(of("7#9"), (Some(4), Some(7), Some(10), false));
        assert_eq!(of("dim7"), (Some(3), Some(6), Some(9), true));
        assert_eq!(of("m6"), (Some(3), Some(7), None, true));
        assert_eq!(of("7#5"), (Some(4), Some(8), Some(10), false));
        assert_eq!(of("5"), (None, Some(7), None, false));
        assert_eq!(of("11").0, None);
    }
}
