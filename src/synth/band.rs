use super::click::Clicker;
use super::player::Player;
use super::room::Room;
use super::schedule::frame_at;
use super::{Fade, Limiter, QUANTUM, Renderer};
use crate::perform::Performance;

/// Seconds that the room and the last strings may ring past the end of the song.
const TAIL_SECONDS: f64 = 1.0;

/// The band, ready to play one performance.
///
/// All memory is taken in [`Synth::new`]; rendering takes none, and no lock.
#[derive(Clone, Debug)]
pub struct Synth {
    sample_rate: u32,
    players: Vec<Player>,
    clicker: Clicker,
    room: Room,
    limiter: Limiter,
    fade: Fade,
    left: [f32; QUANTUM],
    right: [f32; QUANTUM],
    /// Frames of the current block that have been handed out.
    read: usize,
    /// The first frame of the next block to be reckoned.
    reckoned: u64,
    position: u64,
    total: u64,
}

impl Synth {
    /// For a performance, at `sample_rate` frames a second (of 4,000 to 768,000; others are held to
    /// that).
    pub fn new(performance: &Performance, sample_rate: u32) -> Self {
        let sample_rate = sample_rate.clamp(4_000, 768_000);
        let rate = f64::from(sample_rate);
        let player = |part| Player::new(performance, part, sample_rate);
        let end = frame_at(performance.tempo, performance.end, sample_rate);
        let mut synth = Self {
            sample_rate,
            players: performance.parts.iter().map(player).collect(),
            clicker: Clicker::new(performance, sample_rate),
            room: Room::new(rate),
            limiter: Limiter::new(sample_rate),
            fade: Fade::new(sample_rate),
            left: [0.0; QUANTUM],
            right: [0.0; QUANTUM],
            read: QUANTUM,
            reckoned: 0,
            position: 0,
            total: end.saturating_add((TAIL_SECONDS * rate) as u64),
        };
        // The limiter holds one block back. Reckoned ahead, the first frame out is the song's first.
        synth.reckon();
        synth
    }

    fn reckon(&mut self) {
        self.left = [0.0; QUANTUM];
        self.right = [0.0; QUANTUM];
        let mut send = [0.0; QUANTUM];
        for player in &mut self.players {
            player.add(self.reckoned, &mut self.left, &mut self.right, &mut send);
        }
        self.clicker.add(self.reckoned, &mut self.left, &mut self.right, &mut send);
        self.room.add(&send, &mut self.left, &mut self.right);
        self.limiter.next(&mut self.left, &mut self.right);
        self.reckoned += QUANTUM as u64;
    }
}

impl Renderer for Synth {
    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        let frames = left.len().min(right.len());
        let mut done = 0;
        while done < frames && !self.finished() {
            if self.read == QUANTUM {
                self.reckon();
                self.read = 0;
            }
            let to_end = usize::try_from(self.total - self.position).unwrap_or(usize::MAX);
            let count = (QUANTUM - self.read).min(frames - done).min(to_end);
            let (Some(left), Some(right)) =
                (left.get_mut(done..done + count), right.get_mut(done..done + count))
            else {
                break;
            };
            let from = self.read..self.read + count;
            left.copy_from_slice(self.left.get(from.clone()).unwrap_or_default());
            right.copy_from_slice(self.right.get(from).unwrap_or_default());
            self.fade.apply(left, right);
            self.read += count;
            self.position += count as u64;
            done += count;
        }
        for side in [left, right] {
            side.iter_mut().skip(done).for_each(|frame| *frame = 0.0);
        }
    }

    fn sample_rate(&self) -> u32 {
        self.sample_rate
    }

    fn position_frames(&self) -> u64 {
        self.position
    }

    fn total_frames(&self) -> u64 {
        self.total
    }

    fn finished(&self) -> bool {
        self.position >= self.total || self.fade.is_over()
    }

    fn silence(&mut self) {
        self.fade.begin();
    }
}
