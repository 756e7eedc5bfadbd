use super::ensemble::Ensemble;
use super::last_chord::{last_chord_rings, rings_on};
use super::live::LIVE_ROOM;
use super::player::Player;
use super::room::Room;
use super::schedule::{frame_in, framed};
use super::sound::{Sound, most_voices};
use super::voices::most_at_once;
use super::{Outlet, Sequencer};
use crate::chart::Role;
use crate::perform::{Instrument, Message, Performance};

/// Seconds that the room and the last strings may ring past the end of the song.
const TAIL_SECONDS: f64 = 1.0;

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
        let Some(rings) = last_chord_rings(performance) else {
            let total = end.saturating_add((TAIL_SECONDS * rate) as u64);
            return Self::over(Sequencer::new(ensemble, messages, 0), sample_rate, total);
        };
        // No hand comes down on the last chord: it fades as it rings.
        messages.retain(|(frame, message)| match *message {
            Message::NoteOff { channel, pitch } if *frame >= end => {
                !performance.parts.iter().any(|part| {
                    let mut notes = part.notes.iter().rev().filter(|note| note.pitch == pitch);
                    part.role.channel() == channel
                        && notes.next().is_some_and(|note| rings_on(performance, part, note))
                })
            }
            _ => true,
        });
        let total = end.saturating_add((rings.seconds() * rate) as u64);
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
