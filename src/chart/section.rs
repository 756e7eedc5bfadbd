use super::{Dynamic, Pickup, Share};
use crate::theory::{Chord, MidiNote};
use crate::time::Meter;

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

/// One bar as it is played.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartBar {
    /// Its own meter: the song's, unless the bar is headed by another.
    pub meter: Meter,
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
