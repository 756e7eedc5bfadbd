use super::QUANTUM;
use super::modes::{Mode, ModeBank};
use crate::theory::MidiNote;

/// General MIDI's low wood block and side stick (percussion key map). Every other key sounds as the
/// high wood block, 76.
const LOW_BLOCK: u8 = 77;
const SIDE_STICK: u8 = 37;

/// Frames a second divided by this is the length of the stick's touch: 0.5 ms.
const TOUCHES_A_SECOND: f64 = 2_000.0;

/// A little block of hardwood: few modes, far apart, gone in a tenth of a second.
const HIGH: [Mode; 3] = [
    Mode { hz: 1_240.0, ring: 0.075, gain: 6.0 },
    Mode { hz: 2_710.0, ring: 0.045, gain: -3.0 },
    Mode { hz: 4_420.0, ring: 0.025, gain: 1.5 },
];

const LOW: [Mode; 3] = [
    Mode { hz: 930.0, ring: 0.085, gain: 6.5 },
    Mode { hz: 2_030.0, ring: 0.050, gain: -3.0 },
    Mode { hz: 3_310.0, ring: 0.030, gain: 1.5 },
];

/// A stick laid across a drum and struck on its rim: higher, drier, with little of the drum.
const STICK: [Mode; 3] = [
    Mode { hz: 480.0, ring: 0.030, gain: 1.5 },
    Mode { hz: 1_720.0, ring: 0.035, gain: 5.0 },
    Mode { hz: 3_650.0, ring: 0.018, gain: -3.0 },
];

/// Who counts in and tells of changes to come.
#[derive(Clone, Debug)]
pub(super) struct Clicker {
    touch: f64,
    blocks: [Block; 3],
    /// Of the block that is being made, what has been reckoned.
    sound: [f32; QUANTUM],
    done: usize,
}

#[derive(Clone, Debug)]
struct Block {
    modes: ModeBank,
    force: f32,
    /// The touch's age in frames; `f64::MAX` once it is long past.
    age: f64,
    still: bool,
}

impl Block {
    fn new(modes: &[Mode], rate: f64) -> Self {
        Self { modes: ModeBank::new(modes, rate), force: 0.0, age: f64::MAX, still: true }
    }

    /// Adds frames from `wait` on, up to the end of the block or the next touch.
    fn add(&mut self, touch: f64, out: &mut [f32]) {
        if self.still {
            return;
        }
        for frame in out {
            let mut force = 0.0;
            if self.age < touch {
                let along = self.age / touch;
                force = self.force * (std::f64::consts::PI * along).sin() as f32;
                self.age += 1.0;
            }
            *frame += self.modes.next(force);
        }
    }
}

impl Clicker {
    /// With every block at rest.
    pub fn new(sample_rate: u32) -> Self {
        let rate = f64::from(sample_rate);
        let block = |modes| Block::new(modes, rate);
        Self {
            touch: rate / TOUCHES_A_SECOND,
            blocks: [block(&HIGH), block(&LOW), block(&STICK)],
            sound: [0.0; QUANTUM],
            done: 0,
        }
    }

    /// Strikes `wait` frames into the next block; calls come in the order of time. A piece of wood is
    /// not damped: it has no other message.
    pub fn strike(&mut self, pitch: MidiNote, velocity: u8, wait: usize) {
        self.ring_until(wait);
        let number = match pitch.get() {
            LOW_BLOCK => 1,
            SIDE_STICK => 2,
            _ => 0,
        };
        let Some(struck) = self.blocks.get_mut::<usize>(number) else { return };
        struck.force = (f32::from(velocity) / 127.0).powf(1.5);
        struck.age = 0.0;
        struck.still = false;
    }

    /// Nothing rings any more.
    pub fn still(&mut self) {
        for block in &mut self.blocks {
            block.modes.still();
            block.age = f64::MAX;
            block.still = true;
        }
    }

    fn ring_until(&mut self, frame: usize) {
        let Some(part) = self.sound.get_mut(self.done..frame) else { return };
        for block in &mut self.blocks {
            block.add(self.touch, part);
        }
        self.done = frame;
    }

    /// Adds the next block to both sides and to what goes into the room.
    pub fn add(
        &mut self,
        left: &mut [f32; QUANTUM],
        right: &mut [f32; QUANTUM],
        room: &mut [f32; QUANTUM],
    ) {
        if self.blocks.iter().all(|block| block.still) {
            self.done = 0;
            return;
        }
        self.ring_until(QUANTUM);
        self.done = 0;
        for wood in &mut self.blocks {
            wood.still = wood.modes.settle() && wood.age >= self.touch;
        }
        for (((x, left), right), room) in self.sound.iter_mut().zip(left).zip(right).zip(room) {
            *left += 0.7 * *x;
            *right += 0.7 * *x;
            *room += 0.05 * *x;
            *x = 0.0;
        }
    }
}
