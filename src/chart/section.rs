use super::{Dynamic, Share};
use crate::theory::{Chord, MidiNote};
use crate::time::{BarMeter, Ticks};

/// A part of the song that the form calls by its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Its name, as the form calls it.
    pub name: String,
    /// How loud it is played.
    pub dynamics: Dynamic,
    /// What sounds before its first bar.
    pub pickup: Option<Pickup>,
    /// Its bars as played: repeats and endings are unrolled.
    pub bars: Vec<ChartBar>,
}

/// What sounds before the first bar of a section: its anacrusis.
///
/// It takes no time of its own within a song: it sounds at the end of the bar before. Before the first bar of a song
/// stands a bar that holds nothing else, which has no number and is counted in.
#[derive(Clone, Debug, PartialEq)]
pub struct Pickup {
    /// Whole eighth notes, less than a bar.
    pub length: Ticks,
    /// The chord that is written there, if one is. The band waits for the bar; so it says where the tune comes from.
    pub chord: Option<Chord>,
    /// True if a singer sings in it.
    pub sings: bool,
    /// The tune in it, notes and rests; empty where the section has none.
    pub melody: Vec<Share<Tune>>,
}

/// One bar as it is played.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartBar {
    /// Its own meter: the song's, unless the bar is headed by another.
    pub meter: BarMeter,
    /// The chords, `None` where the band is silent (N.C.). Equal neighbours are one share.
    pub chords: Vec<Share<Option<Chord>>>,
    /// Where a singer sings. Equal neighbours are one share.
    pub singing: Vec<Share<bool>>,
    /// Where the band stops. Equal neighbours are one share, but every hit is its own.
    pub stops: Vec<Share<Stop>>,
    /// The tune, if the section has it written out: each note with what holds it, and rests. Empty where
    /// it has not.
    pub melody: Vec<Share<Tune>>,
    /// Counts the phrases of the section as played, from 0.
    pub line: u32,
    /// True for the first bar of its phrase.
    pub line_start: bool,
    /// True for the last bar of its phrase.
    pub line_end: bool,
}

/// What the band does at a place of the `stops` row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Stop {
    /// `.`: it plays on.
    PlayOn,
    /// `x`: all hit together and choke.
    Hit,
    /// `o`: all strike together and let it ring, each new chord anew.
    Hold,
    /// `-`: it is silent.
    Silence,
}

/// What stands at a place of the `melody` row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Tune {
    /// A note begins, in the song's own key.
    Note(MidiNote),
    /// The note before it sounds on, over the bar line.
    Hold,
    /// `-`: a rest.
    Rest,
}
