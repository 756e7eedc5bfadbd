use std::fmt;

use serde::{Deserialize, Serialize};

/// What is left for the player to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Job {
    /// The player leads.
    Lead,
    /// The band stops, or there is no chord: nobody plays.
    Rest,
    /// Nobody has the downbeats: play them with the thumb.
    Boom,
    /// Nobody has the backbeats: vamp.
    Vamp,
    /// Nobody has either: thumb and vamp in turn.
    BoomVamp,
    /// Boom and chick are there and somebody sings: a plain roll for the "ands", felt more than heard.
    RollSoft,
    /// Nobody has the "ands": roll.
    Roll,
    /// The guitar plays every eighth: a roll locked to them.
    RollWith,
    /// The singer pauses: there is room for a fill.
    Fill,
    /// Every part of the beat is taken, or the pass is a hushed one: next to nothing.
    Sparse,
}

impl Job {
    /// All, as listed.
    pub const ALL: [Self; 10] = [
        Self::Lead,
        Self::Rest,
        Self::Boom,
        Self::Vamp,
        Self::BoomVamp,
        Self::RollSoft,
        Self::Roll,
        Self::RollWith,
        Self::Fill,
        Self::Sparse,
    ];

    /// The word for it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Lead => "lead",
            Self::Rest => "rest",
            Self::Boom => "boom",
            Self::Vamp => "vamp",
            Self::BoomVamp => "boom and vamp",
            Self::RollSoft => "roll softly",
            Self::Roll => "roll",
            Self::RollWith => "roll with the guitar",
            Self::Fill => "fill",
            Self::Sparse => "sparse",
        }
    }
}

impl fmt::Display for Job {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}
