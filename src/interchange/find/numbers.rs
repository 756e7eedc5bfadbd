use std::sync::LazyLock;

use serde::Deserialize;
use thiserror::Error;

use crate::theory::{Chord, Mode};

/// The numbers that come with the program.
static OURS: LazyLock<Numbers> = LazyLock::new(|| {
    // A test reads them, so they are never empty.
    Numbers::read(include_str!("numbers.toml")).unwrap_or_default()
});

/// What is wrong with the file.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub(super) enum NumbersError {
    /// It is no TOML, or has other keys.
    #[error("{0}")]
    Toml(String),
    /// What is no chord.
    #[error("`{0}` is no chord")]
    Chord(String),
    /// A row that has too few numbers, or too many.
    #[error("a row of {0} has another length than there are chords")]
    Row(&'static str),
}

/// What notes over chords, and changes between chords, cost: all in hundredths of a natural logarithm.
#[derive(Clone, Debug, Default)]
pub(super) struct Numbers {
    tones: [[[i32; 12]; 3]; 3],
    /// At each place, from any other chord and from the home chord: to change, and to stay.
    changes: [[(i32, i32); 2]; 5],
    modes: [ModeNumbers; 4],
    sure: Vec<(i32, u8)>,
}

/// The chords of a mode.
#[derive(Clone, Debug, Default)]
pub(super) struct ModeNumbers {
    /// The chords where the home note is C; the first is the home chord.
    pub chords: Vec<Chord>,
    /// What it costs to begin a part with each.
    pub first: Vec<i32>,
    /// What it costs to end a part with each.
    pub last: Vec<i32>,
    /// Which chord follows which, where the chord changes at a bar line.
    to: Vec<Vec<i32>>,
    /// And where it changes within a bar.
    within: Vec<Vec<i32>>,
}

/// What sort of chord it is, as far as tunes care.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sort {
    /// A major chord.
    Major,
    /// A minor chord.
    Minor,
    /// The major chord on the fifth, which has its seventh.
    Dominant,
}

/// When a note is struck within its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Struck {
    /// At its head, or before.
    Head,
    /// On a beat.
    Beat,
    /// Between beats.
    Off,
}

/// Where a chord would change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum At {
    /// Within a bar.
    Within,
    /// At the second bar of a phrase.
    Second,
    /// At its third.
    Third,
    /// At its head.
    Head,
    /// At its fourth, in which it comes to rest.
    Fourth,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    tones: Tones,
    changes: Changes,
    sure: Vec<(i32, u8)>,
    major: Written,
    minor: Written,
    mixolydian: Written,
    dorian: Written,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tones {
    major: Rows,
    minor: Rows,
    dominant: Rows,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rows {
    head: [i32; 12],
    beat: [i32; 12],
    off: [i32; 12],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Changes {
    within: [(i32, i32); 2],
    second: [(i32, i32); 2],
    third: [(i32, i32); 2],
    head: [(i32, i32); 2],
    fourth: [(i32, i32); 2],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    chords: Vec<String>,
    first: Vec<i32>,
    last: Vec<i32>,
    to: Vec<Vec<i32>>,
    within: Vec<Vec<i32>>,
}

impl Numbers {
    /// Those that come with the program.
    pub(super) fn ours() -> &'static Self {
        &OURS
    }

    fn read(text: &str) -> Result<Self, NumbersError> {
        let file: File =
            toml::from_str(text).map_err(|error| NumbersError::Toml(error.to_string()))?;
        let rows = |rows: Rows| [rows.head, rows.beat, rows.off];
        let changes = file.changes;
        Ok(Self {
            tones: [rows(file.tones.major), rows(file.tones.minor), rows(file.tones.dominant)],
            changes: [changes.within, changes.second, changes.third, changes.head, changes.fourth],
            modes: [
                ModeNumbers::read(file.major)?,
                ModeNumbers::read(file.minor)?,
                ModeNumbers::read(file.mixolydian)?,
                ModeNumbers::read(file.dorian)?,
            ],
            sure: file.sure,
        })
    }

    /// What a note costs that stands so many half steps above the chord's root.
    pub(super) fn tone(&self, sort: Sort, struck: Struck, interval: u8) -> i32 {
        let rows = self.tones.get(sort as usize).and_then(|rows| rows.get(struck as usize));
        rows.and_then(|row| row.get(usize::from(interval) % 12)).copied().unwrap_or_default()
    }

    /// What it costs to change, and to stay.
    pub(super) fn change(&self, at: At, from_home: bool) -> (i32, i32) {
        let row = self.changes.get(at as usize);
        row.and_then(|row| row.get(usize::from(from_home))).copied().unwrap_or_default()
    }

    pub(super) fn mode(&self, mode: Mode) -> &ModeNumbers {
        let [major, minor, mixolydian, dorian] = &self.modes;
        match mode {
            Mode::Major => major,
            Mode::Minor => minor,
            Mode::Mixolydian => mixolydian,
            Mode::Dorian => dorian,
        }
    }

    /// Of a hundred chords that were so far ahead of any other, how many were right.
    pub(super) fn sure(&self, lead: i32) -> u8 {
        let reached = self.sure.iter().take_while(|(least, _)| lead >= *least);
        reached.last().map_or(0, |(_, sure)| *sure)
    }
}

impl ModeNumbers {
    fn read(written: Written) -> Result<Self, NumbersError> {
        let chord =
            |text: &String| Chord::parse(text).map_err(|_| NumbersError::Chord(text.clone()));
        let chords = written.chords.iter().map(chord).collect::<Result<Vec<_>, _>>()?;
        let whole = |row: &Vec<i32>| row.len() == chords.len();
        let rows = [("first", vec![written.first.clone()]), ("last", vec![written.last.clone()])];
        let squares = [("to", &written.to), ("within", &written.within)];
        let squares = squares.map(|(name, rows)| (name, rows.clone()));
        for (name, rows) in rows.into_iter().chain(squares.clone()) {
            if !rows.iter().all(whole) {
                return Err(NumbersError::Row(name));
            }
        }
        for (name, rows) in squares {
            if rows.len() != chords.len() {
                return Err(NumbersError::Row(name));
            }
        }
        let Written { first, last, to, within, .. } = written;
        Ok(Self { chords, first, last, to, within })
    }

    /// What it costs to go from one chord to another, which begins there.
    pub(super) fn to(&self, at: At, from: usize, to: usize) -> i32 {
        let rows = if at == At::Within { &self.within } else { &self.to };
        rows.get(from).and_then(|row| row.get(to)).copied().unwrap_or_default()
    }

    /// What sort of chord one of them is.
    pub(super) fn sort(chord: &Chord) -> Sort {
        if chord.quality.is_minor() {
            Sort::Minor
        } else if chord.root.pitch_class() == 7 {
            Sort::Dominant
        } else {
            Sort::Major
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_numbers_are_whole() {
        let numbers = Numbers::read(include_str!("numbers.toml")).unwrap();
        for mode in Mode::ALL {
            let own = numbers.mode(mode);
            let home = own.chords.first().unwrap();
            assert_eq!(home.root.pitch_class(), 0, "{mode:?}");
            assert_eq!(home.quality.is_minor(), mode.has_minor_third(), "{mode:?}");
            // Tunes begin and end at home.
            assert!(own.first.iter().skip(1).all(|cost| *cost > own.first[0]), "{mode:?}");
            assert!(own.last.iter().skip(1).all(|cost| *cost > own.last[0]), "{mode:?}");
        }
        // A root costs less than what is no tone of the chord, and a half step above the root most of all.
        for sort in [Sort::Major, Sort::Minor, Sort::Dominant] {
            let row = |interval| numbers.tone(sort, Struck::Head, interval);
            assert!(row(0) < row(2) && row(2) < row(1), "{sort:?}");
        }
        assert!(numbers.sure.windows(2).all(|pair| pair[0].0 < pair[1].0));
        assert!(numbers.sure(i32::MAX) > numbers.sure(0));
    }

    #[test]
    fn what_is_wrong_with_a_file_is_said() {
        let whole = include_str!("numbers.toml");
        let wrong = |from: &str, to: &str| Numbers::read(&whole.replacen(from, to, 1)).unwrap_err();
        assert_eq!(wrong("\"Dm\"", "\"Hm\""), NumbersError::Chord("Hm".to_owned()));
        assert_eq!(wrong("first = [", "first = [7, "), NumbersError::Row("first"));
        assert_eq!(wrong("within = [\n    [", "within = [\n    [7, "), NumbersError::Row("within"));
        assert!(matches!(wrong("[tones.", "[tunes."), NumbersError::Toml(_)));
    }
}
