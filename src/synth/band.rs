use super::ensemble::Ensemble;
use super::live::LIVE_ROOM;
use super::player::Player;
use super::schedule::{frame_in, framed};
use super::sound::{Sound, most_voices};
use super::voices::most_at_once;
use super::{Outlet, Sequencer};
use crate::chart::Role;
use crate::perform::{Instrument, Performance};

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
        let ensemble = Ensemble::new(players.collect(), sample_rate);
        let end = frame_in(performance, performance.end, sample_rate);
        let total = end.saturating_add((TAIL_SECONDS * f64::from(sample_rate)) as u64);
        Self::over(
            Sequencer::new(ensemble, framed(performance, sample_rate), 0),
            sample_rate,
            total,
        )
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
        let ensemble = Ensemble::new(players.collect(), sample_rate);
        Self::over(Sequencer::new(ensemble, Vec::new(), LIVE_ROOM), sample_rate, u64::MAX)
    }

    /// The whole band louder by that factor, clicks included; softer if it is below 1. See
    /// [`make_up`](super::make_up).
    #[must_use]
    pub fn at_gain(mut self, gain: f32) -> Self {
        self.blocks_mut().instruments_mut().set_gain(gain);
        self
    }
}
