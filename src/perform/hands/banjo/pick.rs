use crate::style::Loud;
use crate::theory::MidiNote;
use crate::theory::fretboard::banjo::{BANJO, Finger, SHORT_STRING};
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
    /// What makes it sound.
    pub sounded: Sounded,
    /// What it sounds.
    pub pitch: MidiNote,
    /// How hard.
    pub loud: Loud,
    /// How it ends.
    pub ends: Ends,
}

impl Pick {
    /// The finger that picks it; `None` where the left hand makes it sound.
    pub const fn finger(&self) -> Option<Finger> {
        match self.sounded {
            Sounded::Picked(finger) => Some(finger),
            Sounded::Slurred(_) => None,
        }
    }

    /// True if the left hand chokes it: it lets go at once.
    pub const fn is_choked(&self) -> bool {
        matches!(self.ends, Ends::Vamped | Ends::Choked)
    }

    /// What the left hand does to make it sound; `None` where it is picked.
    pub const fn slur(&self) -> Option<Slur> {
        match self.sounded {
            Sounded::Picked(_) => None,
            Sounded::Slurred(slur) => Some(slur),
        }
    }
}

/// Which hand makes a string sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sounded {
    /// A finger of the right hand picks it.
    Picked(Finger),
    /// It sounds already, and the left hand takes it to another fret.
    Slurred(Slur),
}

/// What the left hand does with a string that sounds already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Slur {
    /// How.
    pub kind: SlurKind,
    /// The fret that it comes from, counted from the capo, 0 open.
    pub from: u8,
}

impl Slur {
    /// True if a hand can do it on a string: up for a hammer-on, down for a pull-off, from one stopped fret to
    /// another for a slide, and never on the short string.
    pub const fn can_reach(self, string: u8, fret: u8) -> bool {
        let goes = match self.kind {
            SlurKind::Slide => self.from != fret && self.from > 0 && fret > 0,
            SlurKind::Hammer => self.from < fret,
            SlurKind::Pull => self.from > fret,
        };
        goes && string != SHORT_STRING && fret <= BANJO.frets && self.from <= BANJO.frets
    }
}

/// The ways of the left hand from one note of a string to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SlurKind {
    /// The finger slides along the string, over the frets between.
    Slide,
    /// Another finger comes down on a higher fret.
    Hammer,
    /// The finger plucks the string as it leaves it for a lower fret or the open string.
    Pull,
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
