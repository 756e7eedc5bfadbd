/// How loud the band plays behind whom, as shares of what each part's `loudness` says.
///
/// The defaults are common practice, no source: make room for a singer, fill up where they pause, lift
/// the breaks, end strong. From singer to break they make about 3 dB where loudness goes with the
/// square of the velocity, as sound modules have it (from memory).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dynamics {
    /// While the singer sings, 0.5 to 1.5.
    pub singer_sings: f64,
    /// While the singer pauses, 0.5 to 1.5.
    pub singer_pauses: f64,
    /// While an instrument leads, 0.5 to 1.5.
    pub on_break: f64,
    /// After the form, 0.5 to 1.5.
    pub ending: f64,
}

impl Default for Dynamics {
    fn default() -> Self {
        Self { singer_sings: 0.9, singer_pauses: 0.98, on_break: 1.06, ending: 1.08 }
    }
}

/// How a song's `tag` is played.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Tag {
    /// By the style's own patterns: home, the chord that leads back to it, home.
    #[default]
    Chords,
    /// Bass and guitar play the stock line together, and all strike its last note. In 3/4 and 6/8 it is
    /// [`Self::Chords`].
    Line,
}

impl Tag {
    /// Both, in the order the messages list them.
    pub const ALL: [Self; 2] = [Self::Line, Self::Chords];

    /// The word that a style writes.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Chords => "chords",
            Self::Line => "line",
        }
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|tag| tag.as_str() == word)
    }
}
