use thiserror::Error;

use super::RecordedHow;

/// Why a take cannot be reviewed.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NotReviewed {
    /// Too little was struck to judge by.
    #[error(
        "the take is too short to review: it has {strokes} in it; play a line of four bars at least"
    )]
    TooShort {
        /// How much there is: "3 strokes".
        strokes: String,
    },
    /// It goes at another tempo.
    #[error("the take does not keep to {wanted:.0} beats a minute; {help}")]
    OtherTempo {
        /// The tempo it was held against, in beats a minute.
        wanted: f64,
        /// What to write instead.
        help: String,
    },
    /// Its notes are not the song's.
    #[error("the take does not fit {title}: {found}; {help}")]
    OtherSong {
        /// The song's title.
        title: String,
        /// What does not fit.
        found: String,
        /// What to check.
        help: String,
    },
    /// It fits in two ways.
    #[error(
        "the take fits in two ways; say which it is: {} or {}", .ways[0], .ways[1]
    )]
    TwoWays {
        /// Both.
        ways: [RecordedHow; 2],
    },
    /// All of it lies before or after the song.
    #[error("no stroke of the take falls within the song: check --count-in and --latency")]
    Elsewhere,
}

impl NotReviewed {
    pub(super) fn too_short(strokes: usize) -> Self {
        let word = if strokes == 1 { "stroke" } else { "strokes" };
        Self::TooShort { strokes: format!("{strokes} {word}") }
    }
}
