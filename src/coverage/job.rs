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
    /// Nobody has the "ands": roll.
    Roll,
    /// The singer pauses: there is room for a fill.
    Fill,
    /// Somebody sings or leads and nothing is missing: next to nothing.
    LayBack,
}

impl Job {
    /// All, as listed.
    pub const ALL: [Self; 8] = [
        Self::Lead,
        Self::Rest,
        Self::Boom,
        Self::Vamp,
        Self::BoomVamp,
        Self::Roll,
        Self::Fill,
        Self::LayBack,
    ];

    /// The word for it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Lead => "lead",
            Self::Rest => "rest",
            Self::Boom => "boom",
            Self::Vamp => "vamp",
            Self::BoomVamp => "boom and vamp",
            Self::Roll => "roll",
            Self::Fill => "fill",
            Self::LayBack => "lay back",
        }
    }
}

impl fmt::Display for Job {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}
