use std::fmt;

/// A sounding pitch as MIDI numbers it: 60 is middle C, 69 the A of 440 Hz (ISO 16). 0 to 127.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MidiNote(u8);

impl MidiNote {
    /// From a number; `None` past 127.
    pub const fn new(number: u8) -> Option<Self> {
        if number <= 127 { Some(Self(number)) } else { None }
    }

    /// From a number, held to 0..=127.
    pub const fn clamped(number: i32) -> Self {
        Self(if number < 0 {
            0
        } else if number > 127 {
            127
        } else {
            number as u8
        })
    }

    /// The number.
    pub const fn get(self) -> u8 {
        self.0
    }

    /// The pitch class, C = 0.
    pub const fn pitch_class(self) -> u8 {
        self.0 % 12
    }

    /// Frequency in hertz: 440·2^((n−69)/12), A4 = 440 Hz by ISO 16.
    pub fn hertz(self) -> f64 {
        440.0 * ((f64::from(self.0) - 69.0) / 12.0).exp2()
    }
}

/// One of the seven letters that notes are named by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Letter {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

impl Letter {
    /// All, from C upward.
    pub const ALL: [Self; 7] = [Self::C, Self::D, Self::E, Self::F, Self::G, Self::A, Self::B];

    /// Semitones above C.
    pub const fn semitones(self) -> i32 {
        [0, 2, 4, 5, 7, 9, 11][self as usize]
    }

    /// The letter `steps` further up (or down), round and round.
    pub const fn step(self, steps: i32) -> Self {
        Self::ALL[(self as i32 + steps).rem_euclid(7) as usize]
    }

    /// From a capital letter.
    pub fn parse(c: char) -> Option<Self> {
        Self::ALL.into_iter().find(|letter| letter.as_char() == c)
    }

    /// The capital letter.
    pub const fn as_char(self) -> char {
        ['C', 'D', 'E', 'F', 'G', 'A', 'B'][self as usize]
    }
}

/// A pitch class with its spelling: a letter and its sharps (positive) or flats (negative).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PitchName {
    /// The letter.
    pub letter: Letter,
    /// Sharps if positive, flats if negative.
    pub accidental: i8,
}

impl PitchName {
    /// A letter with sharps (positive) or flats (negative).
    pub const fn new(letter: Letter, accidental: i8) -> Self {
        Self { letter, accidental }
    }

    /// The pitch class spelled on the letter, with as few sharps or flats as that takes.
    pub const fn spelled(letter: Letter, pitch_class: i32) -> Self {
        // By the short way round: six flats to five sharps.
        let accidental = (pitch_class - letter.semitones() + 6).rem_euclid(12) - 6;
        Self { letter, accidental: accidental as i8 }
    }

    /// The pitch class, C = 0.
    pub const fn pitch_class(self) -> u8 {
        (self.letter.semitones() + self.accidental as i32).rem_euclid(12) as u8
    }

    /// Reads a letter and up to two accidentals from the head of `text`: `#`, `b`, `♯`, `♭`. Gives
    /// the name and the rest.
    pub fn read(text: &str) -> Option<(Self, &str)> {
        let mut chars = text.chars();
        let letter = Letter::parse(chars.next()?)?;
        let mut name = Self::new(letter, 0);
        let mut rest = chars.as_str();
        for (marks, step) in [(['#', '♯'], 1), (['b', '♭'], -1)] {
            while name.accidental.abs() < 2
                && let Some(after) = rest.strip_prefix(marks)
            {
                name.accidental += step;
                rest = after;
            }
            if name.accidental != 0 {
                break;
            }
        }
        Some((name, rest))
    }
}

impl fmt::Display for PitchName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.letter.as_char())?;
        let mark = if self.accidental < 0 { "b" } else { "#" };
        (0..self.accidental.unsigned_abs()).try_for_each(|_| f.write_str(mark))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_read_and_write() {
        for (text, class) in [("C", 0), ("F#", 6), ("Bb", 10), ("Cb", 11), ("B#", 0), ("Ebb", 2)] {
            let (name, rest) = PitchName::read(text).unwrap();
            assert_eq!((name.pitch_class(), rest), (class, ""), "{text}");
            assert_eq!(name.to_string(), text);
        }
        assert!(PitchName::read("H").is_none());
        assert_eq!(PitchName::read("B♭m7").unwrap().1, "m7");
    }

    #[test]
    fn concert_a() {
        // ISO 16: A4 is 440 Hz. 0 is 8.18 Hz and 127 is 12,543.85 Hz.
        let hertz = |n| MidiNote::new(n).unwrap().hertz();
        assert!((hertz(69) - 440.0).abs() < 1e-9);
        assert!((hertz(0) - 8.18).abs() < 0.005);
        assert!((hertz(127) - 12_543.85).abs() < 0.01);
    }
}
