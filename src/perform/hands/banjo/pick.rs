use crate::style::Loud;
use crate::theory::MidiNote;
use crate::theory::fretboard::banjo::Finger;
use crate::time::Ticks;

/// One string of the banjo picked, as tablature would write it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pick {
    /// Its place on the even grid, before swing and feel. Strings pinched together share it.
    pub at: Ticks,
    /// The bar that it belongs to, in [`Arrangement::bars`](crate::arrange::Arrangement::bars).
    pub bar: u32,
    /// The string, 1 to 5; 5 is the short one.
    pub string: u8,
    /// The fret, counted from the capo, 0 to 22; 0 open. The short string is never stopped.
    pub fret: u8,
    /// The finger that picks it.
    pub finger: Finger,
    /// What it sounds.
    pub pitch: MidiNote,
    /// How hard.
    pub loud: Loud,
    /// How it ends.
    pub ends: Ends,
}

/// How a string that was picked stops sounding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ends {
    /// It rings until it is picked again or the left hand moves.
    Rings,
    /// It is a note beside the chord, and the finger goes back before a beat is over.
    Passes,
    /// The left hand lets go at once: a vamp.
    Vamped,
    /// The band stops together.
    Choked,
    /// It is the end: it rings on.
    Last,
}
