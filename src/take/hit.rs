use serde::Serialize;

use crate::theory::MidiNote;
use crate::time::Nanos;

/// What was heard of a player.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Take {
    /// What was struck, by time.
    pub hits: Vec<Hit>,
    /// How long the take is.
    pub length: Nanos,
    /// How it was heard.
    pub source: Source,
}

/// How a take was heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Source {
    /// As MIDI notes.
    Midi,
    /// As sound.
    Sound,
}

/// One stroke: a string picked, or several pinched or brushed together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hit {
    /// When it was struck, from the take's beginning.
    pub at: Nanos,
    /// How hard, 1 to 127: a MIDI velocity, or a loudness mapped to one.
    pub loud: u8,
    /// What sounds, lowest first, as far as it was made out; empty if it was not.
    pub pitches: Vec<MidiNote>,
}
