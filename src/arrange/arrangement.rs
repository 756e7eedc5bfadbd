use std::ops::Range;

use crate::chart::{Lead, RoleSet, Stop};
use crate::style::BarFacts;
use crate::theory::{Chord, Key};
use crate::time::{Meter, Tempo, Ticks};

/// A chord of the arrangement's own list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ChordId(pub u32);

/// The song as it will be played, bar for bar.
#[derive(Clone, Debug)]
pub struct Arrangement {
    /// The song's title.
    pub title: String,
    /// The key it sounds in.
    pub key: Key,
    /// The song's meter.
    pub meter: Meter,
    /// The tempo.
    pub tempo: Tempo,
    /// The tempo that the players play for: as it would be without a practice speed, which changes no note.
    pub pace: Tempo,
    /// The song's own swing, if it has one: the share of a quarter that its first eighth takes, 0.5
    /// to 0.75.
    pub swing: Option<f64>,
    /// The fret of the guitar's capo, 0 for none.
    pub capo: u8,
    /// The line-up.
    pub band: RoleSet,
    /// Each chord of the song's sections and of its ending, once, as it sounds.
    pub chords: Vec<Chord>,
    /// The bars in order, the ending included.
    pub bars: Vec<Bar>,
    /// The chords in order: each lasts until the next begins, and no two neighbours are the same.
    pub spans: Vec<Span>,
    /// The stops of the bars that have any.
    pub stops: Vec<StopSpan>,
    /// How many bars a round has, if the last bar leads back to the first: the bars are one such
    /// round or more. `None` for a song that ends.
    pub round: Option<usize>,
    /// The passes of the form, and the ending.
    pub passes: Vec<PassStart>,
    /// Bars of clicks before the first bar.
    pub count_in: u32,
    /// Where the first bar begins, after the count-in.
    pub start: Ticks,
    /// Where the last bar ends.
    pub end: Ticks,
}

/// One bar.
#[derive(Clone, Debug)]
pub struct Bar {
    /// Its number in the song as played, from 1.
    pub number: usize,
    /// Where it begins.
    pub start: Ticks,
    /// Its meter.
    pub meter: Meter,
    /// Its chords, in [`Arrangement::spans`]. The first may have begun before the bar.
    pub spans: Range<usize>,
    /// Its stops, in [`Arrangement::stops`]; empty where the band plays on.
    pub stops: Range<usize>,
    /// Which of its eighth notes are sung, the first in the lowest bit; none where no voice leads.
    pub sung: u8,
    /// What a player notices about it.
    pub facts: BarFacts,
    /// Who does not play.
    pub resting: RoleSet,
    /// Which bar of its line of the chart it is, from 0.
    pub turn: usize,
    /// Which pass of the form it belongs to, in [`Arrangement::passes`].
    pub pass: usize,
    /// How it is played.
    pub kind: BarKind,
}

/// How a bar is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BarKind {
    /// By the style's patterns.
    Groove,
    /// Everyone strikes the chord on the first beat and lets it ring.
    FinalHit,
}

impl Bar {
    /// Where it ends.
    pub fn end(&self) -> Ticks {
        self.start + self.meter.bar()
    }

    /// True if the singer sings at a place counted from the bar's beginning.
    pub fn is_sung_at(&self, place: Ticks) -> bool {
        let eighth = place.get().div_euclid(Ticks::EIGHTH.get());
        u32::try_from(eighth).is_ok_and(|eighth| eighth < 8 && self.sung >> eighth & 1 == 1)
    }
}

/// A chord and how long it lasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// Where it begins.
    pub start: Ticks,
    /// Where the next begins.
    pub end: Ticks,
    /// The chord; `None` where the chart says N.C.
    pub chord: Option<ChordId>,
}

/// Part of a bar that has stops.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StopSpan {
    /// Where it begins.
    pub start: Ticks,
    /// What the band does.
    pub stop: Stop,
}

/// Where a pass of the form begins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PassStart {
    /// Its first beat.
    pub start: Ticks,
    /// As the form names it.
    pub label: String,
    /// Who is featured.
    pub lead: Option<Lead>,
    /// True for the bars after the form.
    pub is_ending: bool,
}

impl PassStart {
    /// The name of its section: the label without the lead.
    pub fn section(&self) -> &str {
        let name = self.lead.and_then(|lead| self.label.strip_suffix(lead.as_str()));
        name.and_then(|name| name.strip_suffix(": ")).unwrap_or(&self.label)
    }
}

impl Arrangement {
    /// A chord by its number.
    pub fn chord(&self, id: ChordId) -> Option<&Chord> {
        self.chords.get(id.0 as usize)
    }

    /// Who plays in at least one bar.
    pub fn playing(&self) -> RoleSet {
        self.band
            .iter()
            .filter(|&role| self.bars.iter().any(|bar| !bar.resting.contains(role)))
            .collect()
    }
}
