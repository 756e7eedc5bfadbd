use std::fmt;

use thiserror::Error;

use super::RecordedHow;
use crate::theory::PitchName;

/// What to say instead, where a take does not go with what was said of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Instead {
    /// It goes at another speed.
    Speed {
        /// About how fast it goes, in beats a minute.
        goes: f64,
        /// That in percent of the song's tempo.
        percent: f64,
    },
    /// No other speed fits either.
    Steadier,
    /// It fits in another key.
    Key(PitchName),
    /// It fits in no key.
    Song,
}

/// As options of the command line.
impl fmt::Display for Instead {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Speed { goes, percent } => write!(
                f,
                "it goes at about {goes:.0}: if you practised at that, say so with --speed {percent:.0}"
            ),
            Self::Steadier => f.write_str(
                "check --tempo and --speed; if they are right, it is too unsteady to follow: record it \
                 again with the band in your ears, and slower",
            ),
            Self::Key(key) => {
                write!(f, "they fit it in {key}: if that is where you played, say so with --key {key}")
            }
            Self::Song => f.write_str("check that this is the song, and --key"),
        }
    }
}

impl Instead {
    /// For a hand at a page that has a slider for the speed and a list of keys.
    fn by_hand(self) -> String {
        match self {
            Self::Speed { goes, percent } => format!(
                "it goes at about {goes:.0}: if you practised at that, set the speed to {percent:.0} percent \
                 and record again"
            ),
            Self::Steadier => {
                "check that the speed is the one that you played at; if it is, the take is too \
                 unsteady to follow: record it again with the band in your ears, and slower"
                    .to_owned()
            }
            Self::Key(key) => format!(
                "they fit it in {key}: if that is where you played, set the key to {key} and record again"
            ),
            Self::Song => "check that this is the song, and its key".to_owned(),
        }
    }
}

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
        help: Instead,
    },
    /// Its notes are not the song's.
    #[error("the take does not fit {title}: {found}; {help}")]
    OtherSong {
        /// The song's title.
        title: String,
        /// What does not fit.
        found: String,
        /// What to check.
        help: Instead,
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
    /// In words for a page, which has no options to write.
    pub fn by_hand(&self) -> String {
        match self {
            Self::OtherTempo { wanted, help } => {
                format!("the take does not keep to {wanted:.0} beats a minute; {}", help.by_hand())
            }
            Self::OtherSong { title, found, help } => {
                format!("the take does not fit {title}: {found}; {}", help.by_hand())
            }
            Self::Elsewhere => {
                "no stroke of the take falls within the song: record again, and let the band \
                 count you in"
                    .to_owned()
            }
            Self::TooShort { .. } | Self::TwoWays { .. } => self.to_string(),
        }
    }

    pub(super) fn too_short(strokes: usize) -> Self {
        let word = if strokes == 1 { "stroke" } else { "strokes" };
        Self::TooShort { strokes: format!("{strokes} {word}") }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_names_no_option() {
        let key = crate::theory::Key::parse("G").expect("a key").tonic;
        let song = |help| NotReviewed::OtherSong {
            title: "Lantern on the Landing".to_owned(),
            found: "only 70 percent of its notes belong to the chords".to_owned(),
            help,
        };
        let tempo = |help| NotReviewed::OtherTempo { wanted: 108.0, help };
        let all = [
            song(Instead::Key(key)),
            song(Instead::Song),
            tempo(Instead::Steadier),
            tempo(Instead::Speed { goes: 65.0, percent: 60.0 }),
            NotReviewed::Elsewhere,
        ];
        for why in all {
            assert!(why.to_string().contains("--"), "{why}");
            assert!(!why.by_hand().contains("--"), "{}", why.by_hand());
        }
        assert!(
            song(Instead::Key(key)).by_hand().ends_with("set the key to G and record again"),
            "the key is named"
        );
    }
}
