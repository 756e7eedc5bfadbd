/// How loud the band plays behind whom, as shares of what each part's `loudness` says.
///
/// The defaults are common practice, no source: make room for a singer, fill up where they pause, lift
/// the breaks, end strong. From singer to break they make about 3 dB where loudness goes with the
/// square of the velocity, as sound modules have it (from memory); from verse to chorus 3, to the last chorus 1 more.
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
    /// In a sung verse, over and above, 0.5 to 1.5; as all below, where the song does not mark how loud the section is.
    pub verse: f64,
    /// In a sung chorus.
    pub chorus: f64,
    /// The last of several times through a chorus, or through a section of a tune that has none.
    pub last_time: f64,
    /// The first of several times through a section of a tune without a chorus.
    pub first_time: f64,
    /// In the verse in which the band is down.
    pub down: f64,
}

impl Default for Dynamics {
    fn default() -> Self {
        Self {
            singer_sings: 0.9,
            singer_pauses: 0.98,
            on_break: 1.06,
            ending: 1.08,
            verse: 0.84,
            chorus: 1.05,
            last_time: 1.14,
            first_time: 0.97,
            down: 0.88,
        }
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
