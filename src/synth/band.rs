use super::click::Clicker;
use super::player::Player;
use super::room::Room;
use super::schedule::frame_at;
use super::{Outlet, QUANTUM, Renderer};
use crate::perform::Performance;

/// Seconds that the room and the last strings may ring past the end of the song.
const TAIL_SECONDS: f64 = 1.0;

/// The band, ready to play one performance.
///
/// All memory is taken in [`Synth::new`]; rendering takes none, and no lock.
#[derive(Clone, Debug)]
pub struct Synth {
    band: Band,
    outlet: Outlet,
}

#[derive(Clone, Debug)]
struct Band {
    players: Vec<Player>,
    clicker: Clicker,
    room: Room,
    /// The first frame of the next block to be reckoned.
    reckoned: u64,
}

impl Synth {
    /// For a performance, at `sample_rate` frames a second (of 4,000 to 768,000; others are held to
    /// that).
    pub fn new(performance: &Performance, sample_rate: u32) -> Self {
        let sample_rate = sample_rate.clamp(4_000, 768_000);
        let rate = f64::from(sample_rate);
        let player = |part| Player::new(performance, part, sample_rate);
        let end = frame_at(performance.tempo, performance.end, sample_rate);
        let band = Band {
            players: performance.parts.iter().map(player).collect(),
            clicker: Clicker::new(performance, sample_rate),
            room: Room::new(rate),
            reckoned: 0,
        };
        let total = end.saturating_add((TAIL_SECONDS * rate) as u64);
        Self { band, outlet: Outlet::new(sample_rate, total) }
    }
}

impl Band {
    fn block(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]) {
        *left = [0.0; QUANTUM];
        *right = [0.0; QUANTUM];
        let mut send = [0.0; QUANTUM];
        for player in &mut self.players {
            player.add(self.reckoned, left, right, &mut send);
        }
        self.clicker.add(self.reckoned, left, right, &mut send);
        self.room.add(&send, left, right);
        self.reckoned += QUANTUM as u64;
    }
}

impl Renderer for Synth {
    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        self.outlet.fill(left, right, |left, right| self.band.block(left, right));
    }

    fn sample_rate(&self) -> u32 {
        self.outlet.sample_rate()
    }

    fn position_frames(&self) -> u64 {
        self.outlet.position()
    }

    fn total_frames(&self) -> u64 {
        self.outlet.total()
    }

    fn finished(&self) -> bool {
        self.outlet.finished()
    }

    fn silence(&mut self) {
        self.outlet.silence();
    }
}
