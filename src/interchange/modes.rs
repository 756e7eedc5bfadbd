//! The modes of other formats, as songs have them.

use crate::theory::{Key, Letter, Mode, PitchName};

/// A mode as ABC and MusicXML know it: semitones from the tonic to that of the major key with the same
/// signature, in fifths, and the mode that a song has for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct ModeRow {
    /// The first three letters of its name, which are enough (ABC 2.1, 3.1.14).
    pub short: &'static str,
    /// Its whole name.
    pub name: &'static str,
    /// How many sharps less its signature has than the major key of the same tonic.
    pub flatter: i32,
    /// The mode of a song that has the same third, and most of its notes.
    pub mode: Mode,
}

const fn row(short: &'static str, name: &'static str, flatter: i32, mode: Mode) -> ModeRow {
    ModeRow { short, name, flatter, mode }
}

/// All of them (ABC 2.1, 3.1.14: the table of key signatures).
pub(super) const MODES: [ModeRow; 9] = [
    row("maj", "major", 0, Mode::Major),
    row("ion", "ionian", 0, Mode::Major),
    row("min", "minor", 3, Mode::Minor),
    row("aeo", "aeolian", 3, Mode::Minor),
    row("mix", "mixolydian", 1, Mode::Mixolydian),
    row("dor", "dorian", 2, Mode::Dorian),
    row("phr", "phrygian", 4, Mode::Minor),
    row("lyd", "lydian", -1, Mode::Major),
    row("loc", "locrian", 5, Mode::Minor),
];

impl ModeRow {
    /// True if a song has this very mode.
    pub fn is_kept(&self) -> bool {
        self.flatter == flatter(self.mode)
    }
}

/// How many sharps less a mode's signature has than major.
pub(super) const fn flatter(mode: Mode) -> i32 {
    match mode {
        Mode::Major => 0,
        Mode::Mixolydian => 1,
        Mode::Dorian => 2,
        Mode::Minor => 3,
    }
}

/// The key of a tonic and a mode, or the one that sounds the same where its signature would have more than
/// seven sharps or flats.
pub(super) fn key_of(tonic: PitchName, mode: Mode) -> Key {
    let key = Key { tonic, mode };
    match Key::parse(&key.to_string()) {
        Ok(key) => key,
        Err(_) => key.moved(0),
    }
}

/// The sharps (positive) or flats of a tonic in major.
pub(super) fn sharps_of_major(tonic: PitchName) -> i32 {
    // F C G D A E B stand a fifth apart, and so do their signatures, one sharp each.
    let fifths = match tonic.letter {
        Letter::C => 0,
        Letter::D => 2,
        Letter::E => 4,
        Letter::F => -1,
        Letter::G => 1,
        Letter::A => 3,
        Letter::B => 5,
    };
    fifths + 7 * i32::from(tonic.accidental)
}

/// What each letter is raised by in a signature of so many sharps or flats, C first.
pub(super) fn letters(sharps: i32) -> [i8; 7] {
    /// The order of sharps, by their places from C.
    const ORDER: [usize; 7] = [3, 0, 4, 1, 5, 2, 6];
    let mut letters = [0; 7];
    for step in 0..sharps.unsigned_abs().min(14) as usize {
        let place = if sharps > 0 { ORDER.get(step % 7) } else { ORDER.iter().rev().nth(step % 7) };
        if let Some(letter) = place.and_then(|place| letters.get_mut(*place)) {
            *letter += if sharps > 0 { 1 } else { -1 };
        }
    }
    letters
}

/// The tonic of a mode under a signature, in fifths from C.
pub(super) fn tonic_of(sharps: i32, flatter: i32) -> PitchName {
    // A step of a fifth is four letters up.
    let fifths = sharps + flatter;
    let letter = Letter::C.step(fifths * 4);
    PitchName::spelled(letter, (fifths * 7).rem_euclid(12))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signatures_are_the_standards() {
        // ABC 2.1, 3.1.14: the row of two sharps is D, Bm, A mix, E dor, F# phr, G lyd, C# loc.
        for (tonic, short) in [
            ("D", "maj"),
            ("B", "min"),
            ("A", "mix"),
            ("E", "dor"),
            ("F#", "phr"),
            ("G", "lyd"),
            ("C#", "loc"),
        ] {
            let (name, _) = PitchName::read(tonic).unwrap();
            let row = MODES.iter().find(|row| row.short == short).unwrap();
            assert_eq!(sharps_of_major(name) - row.flatter, 2, "{tonic}{short}");
            assert_eq!(tonic_of(2, row.flatter), name);
        }
        assert_eq!(letters(2), [1, 0, 0, 1, 0, 0, 0]);
        assert_eq!(letters(-3), [0, 0, -1, 0, 0, -1, -1]);
    }
}
