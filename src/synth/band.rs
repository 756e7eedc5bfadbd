use super::ensemble::Ensemble;
use super::live::LIVE_ROOM;
use super::player::Player;
use super::room::Room;
use super::schedule::{frame_in, framed};
use super::sound::{Make, Sound, most_voices};
use super::voices::most_at_once;
use super::{Outlet, Sequencer};
use crate::chart::Role;
use crate::perform::{Instrument, Message, Performance};
use crate::theory::MidiNote;

/// Seconds that the room and the last strings may ring past the end of the song.
const TAIL_SECONDS: f64 = 1.0;

/// Seconds for which the last chord of a song rings, from its stroke, and at least past the end: as long as it is
/// heard in a room before somebody speaks (common practice, no source).
const LAST_CHORD: f64 = 4.5;
const AT_LEAST: f64 = 1.0;

/// Strings that sound for so many seconds at the end are let ring; shorter ones were choked there.
const LET_RING: f64 = 0.25;

/// How far below its instrument's lowest note a role may be asked to play live, in semitones: an
/// octave. Strings so long cost memory, so lower ones stay silent.
const BELOW: u8 = 12;

/// The band with its own sound: ready to play one performance, or whatever it is told while it plays.
///
/// All memory is taken when it is made; rendering takes none, and no lock.
pub type Synth = Outlet<Sequencer<Ensemble>>;

/// The rates that are reckoned with; others are held to them.
const RATES: std::ops::RangeInclusive<u32> = 4_000..=768_000;

impl Synth {
    /// For a performance, at `sample_rate` frames a second (of 4,000 to 768,000; others are held to
    /// that).
    pub fn new(performance: &Performance, sample_rate: u32) -> Self {
        let sample_rate = sample_rate.clamp(*RATES.start(), *RATES.end());
        let players = performance.parts.iter().map(|part| {
            let mut played = [false; 128];
            for note in &part.notes {
                if let Some(played) = played.get_mut(usize::from(note.pitch.get())) {
                    *played = true;
                }
            }
            let plays =
                |_: Sound, pitch: u8| played.get(usize::from(pitch)).is_some_and(|&played| played);
            let most = most_at_once(performance, part, sample_rate).min(most_voices(part.role));
            Player::new(part.role, part.instrument, plays, most, sample_rate)
        });
        let mut ensemble = Ensemble::new(players.collect(), sample_rate);
        ensemble.set_room(Room::Parlor);
        let end = frame_in(performance, performance.end, sample_rate);
        let rate = f64::from(sample_rate);
        let mut messages = framed(performance, sample_rate);
        let Some(rings) = last_rings(performance) else {
            let total = end.saturating_add((TAIL_SECONDS * rate) as u64);
            return Self::over(Sequencer::new(ensemble, messages, 0), sample_rate, total);
        };
        // No hand comes down on the last chord: it fades as it rings.
        messages.retain(|(frame, message)| match *message {
            Message::NoteOff { channel, pitch } if *frame >= end => {
                !rings_on(performance, channel, pitch)
            }
            _ => true,
        });
        let total = end.saturating_add((rings * rate) as u64);
        Self::over(Sequencer::new(ensemble, messages, 0), sample_rate, total).fading_from(end)
    }

    /// For playing live, as a [`LiveRenderer`](super::LiveRenderer): each of these roles is ready to play
    /// any note from an octave below its instrument, as many at once as any hand strikes; what is sent to
    /// other roles stays silent. Each begins with the program, volume and pan given here. A song told to
    /// it from its beginning sounds sample by sample as [`Synth::new`] renders it.
    pub fn live(instruments: &[(Role, Instrument)], sample_rate: u32) -> Self {
        let sample_rate = sample_rate.clamp(*RATES.start(), *RATES.end());
        let players = Role::ALL.into_iter().filter_map(|role| {
            let (_, instrument) = instruments.iter().find(|(other, _)| *other == role)?;
            let plays = |sound: Sound, pitch| pitch >= sound.lowest().saturating_sub(BELOW);
            Some(Player::new(role, *instrument, plays, most_voices(role), sample_rate))
        });
        let mut ensemble = Ensemble::new(players.collect(), sample_rate);
        ensemble.set_room(Room::Parlor);
        Self::over(Sequencer::new(ensemble, Vec::new(), LIVE_ROOM), sample_rate, u64::MAX)
    }

    /// In that room; the [`Room::Parlor`] without it. To be said before anything is rendered: it takes memory.
    #[must_use]
    pub fn in_room(mut self, room: Room) -> Self {
        self.blocks_mut().instruments_mut().set_room(room);
        self
    }

    /// What is too loud goes out so, as a file of numbers with a point may hold it: whoever mixes it sees to that.
    #[must_use]
    pub fn unlimited(mut self) -> Self {
        self.lift_limiter();
        self
    }

    /// The whole band louder by that factor, clicks included; softer if it is below 1. See
    /// [`make_up`](super::make_up).
    #[must_use]
    pub fn at_gain(mut self, gain: f32) -> Self {
        self.blocks_mut().instruments_mut().set_gain(gain);
        self
    }
}

/// Seconds for which the strings ring past the end of a song that has an ending.
fn last_rings(performance: &Performance) -> Option<f64> {
    let (ending, _) = performance.cues.iter().rev().find(|(_, what)| *what == "ending")?;
    let held = performance.nanos(performance.end).0 - performance.nanos(*ending).0;
    Some((LAST_CHORD - held as f64 * 1e-9).max(AT_LEAST))
}

/// True if a note that ends with the song is one on plucked strings that were to ring.
fn rings_on(performance: &Performance, channel: u8, pitch: MidiNote) -> bool {
    let seconds = |at| performance.nanos(at).0 as f64 * 1e-9;
    performance.parts.iter().filter(|part| part.role.channel() == channel).any(|part| {
        let sound = Sound::told(part.role, part.program_at(performance.end));
        let mut notes = part.notes.iter().rev().filter(|note| note.pitch == pitch);
        matches!(sound.make(), Make::Plucked(_))
            && notes.next().is_some_and(|note| seconds(note.end) - seconds(note.start) >= LET_RING)
    })
}
