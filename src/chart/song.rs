use std::ops::Range;

use super::{Lead, RoleSet, Section};
use crate::theory::Key;
use crate::theory::fretboard::banjo::Drone;
use crate::time::Meter;

/// A song as read from its file.
#[derive(Clone, Debug, PartialEq)]
pub struct Song {
    /// What it is called.
    pub title: String,
    /// Who made it.
    pub composer: Option<String>,
    /// Anything the player should know.
    pub notes: Option<String>,
    /// The key it is written in.
    pub key: Key,
    /// The meter of every bar without a head of its own.
    pub meter: Meter,
    /// Beats a minute of the meter's beat, from [`Tempo::SLOWEST`](crate::time::Tempo::SLOWEST) to
    /// [`Tempo::FASTEST`](crate::time::Tempo::FASTEST).
    pub tempo: f64,
    /// The backing style: a name, or a path in the song's folder or below it
    /// ([`check_style_name`](super::check_style_name)).
    pub style: String,
    /// The share of a quarter taken by its first eighth, 0.5 (straight) to 0.75, if the song says.
    pub swing: Option<f64>,
    /// The guitar's capo, 0 to 11, if the song says.
    pub capo: Option<u8>,
    /// The line-up: every role unless the song says.
    pub band: RoleSet,
    /// What leads into the form.
    pub kickoff: Kickoff,
    /// What follows the form.
    pub ending: Ending,
    /// What a banjo does with its short string where that is no part of the chord.
    pub drone: Drone,
    /// The sections in the order of the file. Each has at least one bar.
    pub sections: Vec<Section>,
    /// The passes in the order played. There is at least one.
    pub form: Vec<Pass>,
}

impl Song {
    /// The passes in which an instrument has a break that nobody plays: no tune is written, and the lead's chair, which
    /// would make one up, is not in the band. A banjo's is the player's, and so is what says that the chair sits out.
    pub fn unheard_breaks(&self) -> impl Iterator<Item = &Pass> {
        let leads = |role: super::Role| role.row().is_leader;
        let vacant = !self.band.iter().any(leads);
        self.form.iter().filter(move |pass| {
            let has_tune = self
                .sections
                .get(pass.section)
                .is_some_and(|section| section.bars.iter().any(|bar| !bar.melody.is_empty()));
            let breaks = !matches!(pass.lead, None | Some(Lead::Voice | Lead::Banjo));
            vacant && breaks && !has_tune && !pass.sit_out.iter().any(leads)
        })
    }
}

/// What is played before the form.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Kickoff {
    /// Nothing.
    #[default]
    None,
    /// One bar, in which one player leads into the first chord.
    Pickup,
    /// Two bars: four shuffles, long-short-short, on the home note. Not in 3/4.
    Shuffles,
    /// The last line of the tune that the form begins with, which must be written out.
    Line,
}

impl Kickoff {
    /// Every one, in the order the messages list them.
    pub const ALL: [Self; 4] = [Self::None, Self::Pickup, Self::Shuffles, Self::Line];

    /// The word that songs use.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Pickup => "pickup",
            Self::Shuffles => "shuffles",
            Self::Line => "line",
        }
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kickoff| kickoff.as_str() == word)
    }
}

/// What the band plays after the form.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Ending {
    /// One bar: all strike the key's chord on beat 1 and let it ring.
    #[default]
    Hit,
    /// One bar: all strike the key's chord on beat 1 and choke it.
    Cold,
    /// A two-bar tag.
    Tag,
    /// The last line once more, then the hit.
    LastLine,
    /// The last line twice more, then the hit.
    LastLineTwice,
    /// Nothing.
    None,
}

impl Ending {
    /// Every one, in the order the messages list them.
    pub const ALL: [Self; 6] =
        [Self::Hit, Self::Cold, Self::Tag, Self::LastLine, Self::LastLineTwice, Self::None];

    /// The word that songs use.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Hit => "hit",
            Self::Cold => "cold",
            Self::Tag => "tag",
            Self::LastLine => "last-line",
            Self::LastLineTwice => "last-line-twice",
            Self::None => "none",
        }
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|ending| ending.as_str() == word)
    }

    /// How often the last line is played over before the last chord.
    pub const fn last_lines(self) -> usize {
        match self {
            Self::LastLine => 1,
            Self::LastLineTwice => 2,
            Self::Hit | Self::Cold | Self::Tag | Self::None => 0,
        }
    }
}

/// One time through a section.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pass {
    /// Which of [`Song::sections`].
    pub section: usize,
    /// Who is featured.
    pub lead: Option<Lead>,
    /// Whose chair is open in this pass (apart from what the lead drops).
    pub sit_out: RoleSet,
    /// What a marker says: `verse: guitar`, or `verse` without a lead.
    pub label: String,
}

/// What says whether a style suits a song. It is known of many songs that are wrong elsewhere.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Header {
    /// The style's name and where it stands; `None` if it is missing or wrong in itself.
    pub style: Option<(String, Range<usize>)>,
    /// The meter; `None` likewise.
    pub meter: Option<Meter>,
}

/// Where some of the song's words stand in its file, for what can only be judged later.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SongSpans {
    /// The style's name.
    pub style: Range<usize>,
    /// The meter.
    pub meter: Range<usize>,
    /// The key.
    pub key: Range<usize>,
}
