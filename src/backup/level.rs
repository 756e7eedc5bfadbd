use std::fmt;

use serde::Serialize;

/// How much of the backup player's craft a part shows. Each adds one thing to the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// Rolls over the chord's own tones.
    Plain,
    /// The added sixth among them.
    Sixths,
    /// A lick that leads into each change.
    LeadIns,
    /// All that the coverage asks for: vamps and inversions up the neck, fills in the singer's pauses,
    /// next to nothing behind the singer.
    Full,
}

impl Level {
    /// All, from the least upward.
    pub const ALL: [Self; 4] = [Self::Plain, Self::Sixths, Self::LeadIns, Self::Full];

    /// The word that options and files use.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Sixths => "sixths",
            Self::LeadIns => "lead-ins",
            Self::Full => "full",
        }
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|level| level.as_str() == word)
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}
