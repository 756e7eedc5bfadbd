use std::fmt;

use super::PitchName;

/// The modes that string-band tunes are in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Mode {
    Major,
    Minor,
    Mixolydian,
    Dorian,
}

/// A tonic and a mode.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Key {
    /// The home note.
    pub tonic: PitchName,
    /// The mode.
    pub mode: Mode,
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.mode {
            Mode::Major => write!(f, "{}", self.tonic),
            Mode::Minor => write!(f, "{}m", self.tonic),
            Mode::Mixolydian => write!(f, "{} mixolydian", self.tonic),
            Mode::Dorian => write!(f, "{} dorian", self.tonic),
        }
    }
}
