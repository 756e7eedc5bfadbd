use std::fmt;

/// How closely the players keep together, and to the grid.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Looseness {
    /// On the swung grid to the tick, and as hard each time: for a sequencer that brings its own.
    Grid,
    /// Closer than people play together.
    Tight,
    /// As a band that plays to a click, each player as loose as the style says.
    #[default]
    Band,
    /// As a band without a click: looser, and all drift together.
    Loose,
}

impl Looseness {
    /// All, from the strictest.
    pub const ALL: [Self; 4] = [Self::Grid, Self::Tight, Self::Band, Self::Loose];

    /// The word for it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Grid => "grid",
            Self::Tight => "tight",
            Self::Band => "band",
            Self::Loose => "loose",
        }
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|looseness| looseness.as_str() == word)
    }
}

impl fmt::Display for Looseness {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_is_read_from_its_word() {
        for looseness in Looseness::ALL {
            assert_eq!(Looseness::parse(looseness.as_str()), Some(looseness));
        }
        assert_eq!(Looseness::parse("sloppy"), None);
    }
}
