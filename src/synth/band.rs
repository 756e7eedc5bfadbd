use super::click::Clicker;
use super::player::Player;
use super::room::Room;
use super::schedule::frame_at;
use super::{Blocks, Outlet, QUANTUM};
use crate::perform::Performance;

/// Seconds that the room and the last strings may ring past the end of the song.
const TAIL_SECONDS: f64 = 1.0;

/// The band with its own sound, ready to play one performance.
///
/// All memory is taken in `Synth::new`; rendering takes none, and no lock.
pub type Synth = Outlet<Band>;

/// The players of a performance and the room around them.
#[derive(Clone, Debug)]
pub struct Band {
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
        Self::over(band, sample_rate, total)
    }
}

impl Blocks for Band {
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
