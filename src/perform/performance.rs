use super::{Swing, Touch};
use crate::chart::Role;
use crate::style::Instrument;
use crate::theory::{Key, MidiNote};
use crate::time::{BarMeter, Nanos, Tempo, Ticks};

/// One note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Note {
    /// When it is struck, feel included. Never before 0.
    pub start: Ticks,
    /// When it is damped; after `start`.
    pub end: Ticks,
    /// Its pitch.
    pub pitch: MidiNote,
    /// How hard, 1 to 127.
    pub velocity: u8,
    /// `None` for a note that is struck. For one that the left hand makes of a string that sounds, or a bow that
    /// goes on, the pitch that sounds until then: a note of the part that ends as this one begins.
    pub slurred: Option<MidiNote>,
    /// The bar it belongs to, in [`Arrangement::bars`](crate::arrange::Arrangement::bars): that of
    /// its place on the grid. Feel lets it begin a little before its bar line, and a slow strum after
    /// the next; 0 for the clicks of the count-in, which belong to none.
    pub bar: u32,
}

/// All that one role plays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// The role.
    pub role: Role,
    /// Its sound.
    pub instrument: Instrument,
    /// Other sounds later on, as whoever leads hands over: from when, and the General MIDI program from
    /// 0. By time; each begins with a note.
    pub programs: Vec<(Ticks, u8)>,
    /// Its notes by start, slurred ones first, then by pitch. No two of the same pitch overlap.
    pub notes: Vec<Note>,
}

impl Part {
    /// The General MIDI program, from 0, of a note that begins at a time.
    pub fn program_at(&self, at: Ticks) -> u8 {
        let begun = self.programs.partition_point(|(from, _)| *from <= at);
        let last = begun.checked_sub(1).and_then(|last| self.programs.get(last));
        last.map_or(self.instrument.program, |(_, program)| *program)
    }
}

/// A slower tempo from a place on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Slowing {
    /// From where on.
    pub at: Ticks,
    /// The time of a quarter in thousandths of what it is at the performance's tempo: 1250 for four
    /// fifths of the tempo.
    pub permille: u32,
}

/// A whole performance: everything a sink needs. Time 0 is the first beat of the count-in, or of the
/// song if there is none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Performance {
    /// The song's title.
    pub title: String,
    /// The sounding key.
    pub key: Key,
    /// The tempo.
    pub tempo: Tempo,
    /// How it swings: where the band has what is written evenly.
    pub swing: Swing,
    /// Where it slows down, in order; each holds until the next. Empty for a steady tempo.
    pub slowing: Vec<Slowing>,
    /// Each meter and where it begins. The first is at 0.
    pub meters: Vec<(Ticks, BarMeter)>,
    /// Each pass of the form and where it begins.
    pub markers: Vec<(Ticks, String)>,
    /// What is played before and after the form, and where it begins: a kickoff or the tune's own pickup, each last
    /// line that comes once more, the ending.
    pub cues: Vec<(Ticks, &'static str)>,
    /// Each chord and where it begins.
    pub chords: Vec<(Ticks, String)>,
    /// The parts of the roles that play at all, in the order of [`Role::ALL`].
    pub parts: Vec<Part>,
    /// The clicks of the count-in: General MIDI percussion on its channel.
    pub clicks: Vec<Note>,
    /// Where the song itself begins, after the count-in.
    pub song_start: Ticks,
    /// The end of the last bar. Nothing sounds past it, but that the last notes of a round ring on into
    /// its first bar, until a hand there stops them.
    pub end: Ticks,
    /// How loud it means to be.
    pub touch: Touch,
}

impl Performance {
    /// The time of a position, by the tempo and where it slows down.
    pub fn nanos(&self, at: Ticks) -> Nanos {
        let (mut from, mut time, mut tempo) = (Ticks::ZERO, Nanos(0), self.tempo);
        for slowing in self.slowing.iter().take_while(|slowing| slowing.at <= at) {
            time.0 = time.0.saturating_add(tempo.nanos(slowing.at - from).0);
            (from, tempo) = (slowing.at, self.tempo.stretched(slowing.permille));
        }
        Nanos(time.0.saturating_add(tempo.nanos(at - from).0))
    }
}
