//! A tune as the reader of a format found it: bars as they are written, with the signs between them.

use std::ops::Range;

use super::Remarks;
use super::marks::Marks;
use super::units::{WHOLE, times};
use crate::chart::{Ending, Kickoff, Lead, Song};
use crate::theory::{Chord, Key, MidiNote};

/// A tune of another format. It becomes a song with [`Tune::song`](super::Tune::song).
#[derive(Clone, Debug)]
pub struct Tune {
    /// Its number in the file, from 1.
    pub number: usize,
    /// Where it begins in the file.
    pub at: usize,
    /// What it is called.
    pub title: String,
    /// Who made it.
    pub composer: Option<String>,
    /// What else the file says of it, a line each.
    pub notes: Vec<String>,
    /// What kind of tune it is: `reel`, `jig`.
    pub rhythm: Option<String>,
    /// The key; its mode is one that songs know.
    pub key: Key,
    /// The time signature at the beginning.
    pub time: TimeSignature,
    /// How fast it goes, if the file says.
    pub tempo: Option<TempoMark>,
    /// The bars as written.
    pub measures: Vec<Measure>,
    /// The labels of its parts in the order played, if the file says.
    pub order: Vec<String>,
    /// True if it has words under its notes.
    pub sung: bool,
    /// What only a file of this program says.
    pub own: Option<OwnWords>,
    /// What could not be kept, and what had to be chosen.
    pub remarks: Remarks,
}

/// What this program writes into a file of another format, so that all of a song's form comes back.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OwnWords {
    /// The backing style.
    pub style: Option<String>,
    /// The meter, which the first bar need not have.
    pub meter: Option<TimeSignature>,
    /// Each section's label in the file, and its name.
    pub sections: Vec<(String, String)>,
    /// The passes: a section's name, and who leads.
    pub form: Vec<(String, Option<Lead>)>,
    /// What is played before the form, if the file says.
    pub kickoff: Option<Kickoff>,
    /// What is played after it, if the file says.
    pub ending: Option<Ending>,
}

impl OwnWords {
    /// Takes the word for what is played before or after the form; another word says nothing.
    pub(super) fn around(&mut self, what: &str, word: &str) {
        match what {
            "kickoff" => self.kickoff = Kickoff::ALL.into_iter().find(|it| it.as_str() == word),
            "ending" => self.ending = Ending::ALL.into_iter().find(|it| it.as_str() == word),
            _ => {}
        }
    }

    /// What a song plays before and after its form, in words, where that is not what every song does.
    pub(super) fn of_around(song: &Song) -> impl Iterator<Item = (&'static str, &'static str)> {
        let kickoff = (song.kickoff != Kickoff::default()).then(|| song.kickoff.as_str());
        let ending = (song.ending != Ending::default()).then(|| song.ending.as_str());
        let kickoff = kickoff.map(|word| ("kickoff", word));
        kickoff.into_iter().chain(ending.map(|word| ("ending", word)))
    }
}

/// A time signature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct TimeSignature {
    /// The upper number.
    pub beats: u32,
    /// The lower number.
    pub unit: u32,
    /// True if the file says that there is none; the numbers are then 4/4.
    pub free: bool,
}

impl TimeSignature {
    /// Four quarters.
    pub const COMMON: Self = Self::new(4, 4);

    /// So many of such.
    pub const fn new(beats: u32, unit: u32) -> Self {
        Self { beats, unit, free: false }
    }

    /// A bar's length, in units.
    pub(super) fn length(self) -> i64 {
        times(WHOLE, i64::from(self.beats), i64::from(self.unit))
    }

    /// True where the beat is three: 6/8, 9/8, 12/8.
    pub(super) const fn is_compound(self) -> bool {
        self.beats > 3 && self.beats.is_multiple_of(3) && self.unit >= 8
    }
}

/// How fast: so many of a length a minute.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TempoMark {
    /// The length that is counted, in units.
    pub(super) beat: i64,
    /// How many there are in a minute.
    pub per_minute: f64,
}

/// A bar as it is written.
#[derive(Clone, Debug)]
pub struct Measure {
    /// Where it stands.
    pub span: Range<usize>,
    /// The time signature there.
    pub time: TimeSignature,
    /// What sounds, one after the other.
    pub(super) notes: Vec<Sounding>,
    /// Where chords begin, in units from the head of the bar.
    pub(super) chords: Vec<(i64, Option<Chord>)>,
    /// A repeat begins before it.
    pub opens: bool,
    /// How many times more the repeat is played that ends after it.
    pub closes: u32,
    /// The endings that begin with it, by their numbers.
    pub ending: Vec<u32>,
    /// A double bar line stands after it.
    pub double: bool,
    /// A line of the page ends after it.
    pub line_end: bool,
    /// The label of the part that begins with it.
    pub part: Option<String>,
    /// Signs that send the player elsewhere.
    pub marks: Marks,
}

/// A note or a rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sounding {
    /// How long, in units.
    pub length: i64,
    /// What.
    pub what: What,
}

/// What sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// A note begins.
    Note(MidiNote),
    /// The note before goes on.
    Hold,
    /// A rest.
    Rest,
    /// No tune is written here.
    Blank,
}

impl Measure {
    /// A bar with nothing in it yet.
    pub(super) const fn new(at: usize, time: TimeSignature) -> Self {
        Self {
            span: at..at,
            time,
            notes: Vec::new(),
            chords: Vec::new(),
            opens: false,
            closes: 0,
            ending: Vec::new(),
            double: false,
            line_end: false,
            part: None,
            marks: Marks::NONE,
        }
    }

    /// How long it lasts, in units.
    pub(super) fn length(&self) -> i64 {
        self.notes.iter().map(|note| note.length).sum()
    }
}
