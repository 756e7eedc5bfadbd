use std::ops::Range;

use super::{KickoffPlan, Looseness};
use crate::chart::{Dynamic, Lead, RoleSet, Stop};
use crate::style::BarFacts;
use crate::theory::fretboard::banjo::Drone;
use crate::theory::{Chord, Key, MidiNote};
use crate::time::{BarMeter, Meter, Tempo, Ticks};

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
    /// What a banjo does with its short string where that is no part of the chord.
    pub drone: Drone,
    /// How closely the players keep together.
    pub looseness: Looseness,
    /// The line-up.
    pub band: RoleSet,
    /// Each chord of the song's sections and of its ending, once, as it sounds.
    pub chords: Vec<Chord>,
    /// How it starts before its form, if it does. Its bars come first.
    pub kickoff: Option<KickoffPlan>,
    /// The bars in order, kickoff and ending included.
    pub bars: Vec<Bar>,
    /// The chords in order: each lasts until the next begins, and no two neighbours are the same.
    pub spans: Vec<Span>,
    /// The stops of the bars that have any.
    pub stops: Vec<StopSpan>,
    /// The notes of the bars whose tune is written out, as they sound.
    pub melody: Vec<MelodyNote>,
    /// How many bars a round has, if the last bar leads back to the first: the bars are one such
    /// round or more. `None` for a song that ends.
    pub round: Option<usize>,
    /// The kickoff, the passes of the form, and the ending.
    pub passes: Vec<PassStart>,
    /// Bars of clicks before the first bar.
    pub count_in: u32,
    /// Where the first bar begins, after the count-in: the kickoff's, if there is one.
    pub start: Ticks,
    /// Where the last bar ends.
    pub end: Ticks,
}

/// One bar.
#[derive(Clone, Debug)]
pub struct Bar {
    /// Its number in the song as played, from 1; 0 for every bar of a kickoff.
    pub number: usize,
    /// Where it begins.
    pub start: Ticks,
    /// Its meter.
    pub meter: BarMeter,
    /// The meter whose beats and patterns it has: its own, or the song's where the band has none for that.
    pub gait: Meter,
    /// Its chords, in [`Arrangement::spans`]. The first may have begun before the bar.
    pub spans: Range<usize>,
    /// Its stops, in [`Arrangement::stops`]; empty where the band plays on.
    pub stops: Range<usize>,
    /// The notes that begin in it or sound on from the bar before, in [`Arrangement::melody`]; `None`
    /// where no tune is written out.
    pub melody: Option<Range<usize>>,
    /// Which of its eighth notes are sung, the first in the lowest bit; none where no voice leads.
    pub sung: u16,
    /// What a player notices about it.
    pub facts: BarFacts,
    /// Who does not play.
    pub resting: RoleSet,
    /// How loud its section is.
    pub dynamics: Dynamic,
    /// Which bar of its line of the chart it is, from 0.
    pub turn: usize,
    /// Which line of its section as played, from 0.
    pub line: usize,
    /// Which pass of the form it belongs to, in [`Arrangement::passes`].
    pub pass: usize,
    /// How it is played.
    pub kind: BarKind,
}

/// How a bar is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BarKind {
    /// The last bar: all strike its chord on beat 1 and choke it.
    ColdEnd,
    /// Before the form: those who play the kickoff play it, and nobody else.
    Kickoff,
    /// By the style's patterns.
    Groove,
    /// The bar before the last of a tag that has the stock line.
    Tag,
    /// The last bar of such a tag: a rest, the line's last step, and in its middle everyone strikes the
    /// chord and lets it ring.
    TagEnd,
    /// Everyone strikes the chord on the first beat and lets it ring.
    FinalHit,
}

impl Bar {
    /// Where it ends.
    pub fn end(&self) -> Ticks {
        self.start + self.meter.bar()
    }

    /// How long its beats are; the last may be cut short.
    pub const fn beat(&self) -> Ticks {
        self.gait.beat()
    }

    /// How many beats begin in it.
    pub const fn beats(&self) -> i64 {
        let (length, beat) = (self.meter.bar().get(), self.beat().get());
        (length + beat - 1) / beat
    }

    /// True if the singer sings at a place counted from the bar's beginning.
    pub fn is_sung_at(&self, place: Ticks) -> bool {
        let eighth = place.get().div_euclid(Ticks::EIGHTH.get());
        u32::try_from(eighth).is_ok_and(|eighth| eighth < u16::BITS && self.sung >> eighth & 1 == 1)
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

/// A note of a written tune, as far as it sounds in one bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MelodyNote {
    /// Where it begins.
    pub start: Ticks,
    /// Where it ends, at most at the end of the bar.
    pub end: Ticks,
    /// What sounds.
    pub pitch: MidiNote,
    /// True if it sounds on from the bar before.
    pub tied: bool,
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
    /// True for the bars before the form.
    pub is_kickoff: bool,
    /// True if it is the form's last line once more, which the song's ending asks for.
    pub is_last_line: bool,
    /// True for the bars after the form.
    pub is_ending: bool,
}

impl PassStart {
    /// True for a pass of the form itself.
    pub const fn is_of_form(&self) -> bool {
        !self.is_kickoff && !self.is_ending
    }

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

    /// How many bars stand before the form.
    pub fn kickoff_bars(&self) -> usize {
        self.bars.iter().take_while(|bar| bar.kind == BarKind::Kickoff).count()
    }

    /// Where the form begins.
    pub fn form_start(&self) -> Ticks {
        self.bars.get(self.kickoff_bars()).map_or(self.start, |bar| bar.start)
    }

    /// True if the bar belongs to a pass of the form: to no kickoff and to no ending.
    pub fn is_of_form(&self, bar: &Bar) -> bool {
        self.passes.get(bar.pass).is_none_or(PassStart::is_of_form)
    }

    /// Who plays in at least one bar.
    pub fn playing(&self) -> RoleSet {
        self.band
            .iter()
            .filter(|&role| self.bars.iter().any(|bar| !bar.resting.contains(role)))
            .collect()
    }
}
