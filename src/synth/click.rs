use super::QUANTUM;
use super::modes::{Mode, ModeBank};
use super::schedule::{Action, Event, events};
use crate::perform::{Note, Performance};

/// General MIDI's low wood block (percussion key map). Every other key sounds as the high one.
const LOW_BLOCK: u8 = 77;

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

/// Who counts in.
#[derive(Clone, Debug)]
pub(super) struct Clicker {
    notes: Vec<Note>,
    events: Vec<Event>,
    next: usize,
    touch: f64,
    high: Block,
    low: Block,
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
    /// Reckons all that the count-in will need.
    pub fn new(performance: &Performance, sample_rate: u32) -> Self {
        let rate = f64::from(sample_rate);
        Self {
            notes: performance.clicks.clone(),
            events: events(performance, &performance.clicks, sample_rate),
            next: 0,
            touch: rate / TOUCHES_A_SECOND,
            high: Block::new(&HIGH, rate),
            low: Block::new(&LOW, rate),
        }
    }

    /// Adds the block that begins at `start` to both sides.
    pub fn add(
        &mut self,
        start: u64,
        left: &mut [f32; QUANTUM],
        right: &mut [f32; QUANTUM],
        room: &mut [f32; QUANTUM],
    ) {
        let mut block = [0.0; QUANTUM];
        let mut done = 0;
        while let Some(event) = self.events.get(self.next)
            && event.frame < start + QUANTUM as u64
        {
            self.next += 1;
            // A block of wood is not damped.
            let Action::Strike(number) = event.action else { continue };
            let Some(note) = self.notes.get(number) else { continue };
            let wait = event.frame.saturating_sub(start) as usize;
            if let Some(until) = block.get_mut(done..wait) {
                self.high.add(self.touch, until);
                self.low.add(self.touch, until);
                done = wait;
            }
            let struck = if note.pitch.get() == LOW_BLOCK { &mut self.low } else { &mut self.high };
            struck.force = (f32::from(note.velocity) / 127.0).powf(1.5);
            struck.age = 0.0;
            struck.still = false;
        }
        if self.high.still && self.low.still {
            return;
        }
        if let Some(rest) = block.get_mut(done..) {
            self.high.add(self.touch, rest);
            self.low.add(self.touch, rest);
        }
        for wood in [&mut self.high, &mut self.low] {
            wood.still = wood.modes.settle() && wood.age >= self.touch;
        }
        for (((x, left), right), room) in block.iter().zip(left).zip(right).zip(room) {
            *left += 0.7 * x;
            *right += 0.7 * x;
            *room += 0.05 * x;
        }
    }
}
