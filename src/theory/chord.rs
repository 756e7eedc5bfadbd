use thiserror::Error;

use super::PitchName;

/// A chord.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Chord {
    /// The root.
    pub root: PitchName,
    /// The slash bass, if one is written.
    pub bass: Option<PitchName>,
}

/// Why a text is no chord.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("not a chord")]
pub struct ChordError;
