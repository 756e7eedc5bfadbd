use crate::backup::Level;

/// What a player wants to see of the song.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// How chords are written.
    pub chords: ChordsAs,
    /// Of which level the coming bar's tab is; `None` for no tab.
    pub tab: Option<Level>,
}

/// How chords are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ChordsAs {
    /// As they sound: `A`.
    #[default]
    Names,
    /// By their numbers in the key: `1`.
    Numbers,
    /// As the banjo's hand holds them behind its capo: `G`.
    Shapes,
}

impl Default for Shown {
    fn default() -> Self {
        Self { chords: ChordsAs::default(), tab: Some(Level::Full) }
    }
}

impl ChordsAs {
    /// What the key changes it to; without a capo a shape is called by the chord's own name.
    #[must_use]
    pub const fn next(self, capo: u8) -> Self {
        match self {
            Self::Names => Self::Numbers,
            Self::Numbers if capo > 0 => Self::Shapes,
            Self::Numbers | Self::Shapes => Self::Names,
        }
    }

    /// In a few words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Names => "chords by their names",
            Self::Numbers => "chords by their numbers",
            Self::Shapes => "chords as the banjo's shapes",
        }
    }
}

/// The level that follows, none after the last, and then the first again.
pub(super) fn next_level(level: Option<Level>) -> Option<Level> {
    match level {
        None => Level::ALL.first().copied(),
        Some(level) => Level::ALL.into_iter().find(|next| *next > level),
    }
}
