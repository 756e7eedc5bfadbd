use std::fmt;

use serde::Serialize;

/// Who is featured in a pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Lead {
    Voice,
    Fiddle,
    Mandolin,
    Guitar,
    Banjo,
    Bass,
    Resonator,
}

impl Lead {
    /// Every lead, in the order the messages list them.
    pub const ALL: [Self; 7] = [
        Self::Voice,
        Self::Fiddle,
        Self::Mandolin,
        Self::Guitar,
        Self::Banjo,
        Self::Bass,
        Self::Resonator,
    ];

    /// The word that songs use.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Voice => "voice",
            Self::Fiddle => "fiddle",
            Self::Mandolin => "mandolin",
            Self::Guitar => "guitar",
            Self::Banjo => "banjo",
            Self::Bass => "bass",
            Self::Resonator => "resonator",
        }
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|lead| lead.as_str() == word)
    }
}

impl fmt::Display for Lead {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_go_both_ways() {
        assert!(Lead::ALL.into_iter().all(|lead| Lead::parse(lead.as_str()) == Some(lead)));
    }
}
