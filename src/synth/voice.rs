use super::QUANTUM;
use super::hush::Hush;
use super::loop_filter::{LN_1000, LoopFilter};
use super::pluck::Pluck;
use super::string_loop::StringLoop;
use super::timbre::Timbre;
use crate::theory::MidiNote;

/// How far a note falls before it counts as gone, in units of 60 dB: 100 dB.
const GONE: f64 = 100.0 / 60.0;

/// What a note of one pitch needs, reckoned before the playing begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plan {
    /// The pair's filters while it rings.
    pub open: [LoopFilter; 2],
    /// The pair's filters under the damping hand.
    pub damped: [LoopFilter; 2],
    /// Frames after which it has rung out by itself.
    pub life: u64,
}

impl Plan {
    /// `None` for a pitch too high for the rate.
    pub fn new(timbre: Timbre, pitch: MidiNote, rate: f64) -> Option<Self> {
        let note = pitch.get();
        let hz = |string: usize| {
            let cents = if string == 0 { timbre.detune.0 } else { timbre.detune.1 };
            pitch.hertz() * (cents / 1_200.0).exp2()
        };
        let open = |n| LoopFilter::new(rate, hz(n), timbre.ring(note, n));
        let damped = |n| LoopFilter::new(rate, hz(n), timbre.damped_ring(note, n));
        Some(Self {
            open: [open(0)?, open(1)?],
            damped: [damped(0)?, damped(1)?],
            life: (timbre.ring(note, 0).low * GONE * rate) as u64,
        })
    }

    /// The farthest any of its filters looks back.
    pub fn reach(&self) -> usize {
        self.open.iter().chain(&self.damped).map(LoopFilter::reach).max().unwrap_or(0)
    }
}

/// Frames that a damped note takes to be gone.
pub(super) fn damped_frames(timbre: Timbre, rate: f64) -> u64 {
    (timbre.damp_ms / 1_000.0 * GONE * rate) as u64
}

/// What all notes of a timbre have in common.
#[derive(Clone, Copy, Debug)]
pub(super) struct Manner {
    /// Each string's share in the sound.
    shares: [f32; 2],
    /// What is left of a damped note from frame to frame.
    fall: f32,
    damped_frames: u64,
}

impl Manner {
    /// Of that timbre.
    pub fn new(timbre: Timbre, rate: f64) -> Self {
        Self {
            shares: [1.0, timbre.second as f32],
            fall: (-LN_1000 * 1_000.0 / (timbre.damp_ms * rate)).exp() as f32,
            damped_frames: damped_frames(timbre, rate),
        }
    }
}

/// A note that sounds, or room for one, of any timbre.
#[derive(Clone, Debug)]
pub(super) struct Voice {
    strings: [StringLoop; 2],
    sounding: Option<Sounding>,
}

#[derive(Clone, Debug)]
struct Sounding {
    pitch: u8,
    /// Which of its player's sounds it has.
    sound: usize,
    manner: Manner,
    plan: Plan,
    pluck: Pluck,
    /// Frames of the block before the strike.
    wait: usize,
    /// Frames since the strike.
    age: u64,
    /// The age at which the hand comes down.
    damped_at: Option<u64>,
    level: f32,
    hush: Option<Hush>,
    turn: Option<Turn>,
}

/// A string that is stopped elsewhere and goes on.
#[derive(Clone, Debug)]
struct Turn {
    /// Frames of the block before it.
    wait: usize,
    /// How many times as fast it is then.
    ratio: f64,
    plan: Plan,
    /// What the finger gives it.
    touch: Pluck,
}

/// What a string keeps of its motion as the left hand takes it elsewhere: a finger takes a little of it away
/// (common practice, no source).
const KEPT: f32 = 0.9;

impl Voice {
    /// At rest, with room for plans of that reach.
    pub fn new(longest_reach: usize) -> Self {
        let string = StringLoop::new(longest_reach);
        Self { strings: [string.clone(), string], sounding: None }
    }

    /// Which of its player's sounds it has; `None` at rest.
    pub fn sound(&self) -> Option<usize> {
        self.sounding.as_ref().map(|sounding| sounding.sound)
    }

    /// Frames since the strike, or `None` at rest.
    pub fn age(&self) -> Option<u64> {
        self.sounding.as_ref().map(|sounding| sounding.age)
    }

    /// True at rest or on the way to it under [`Self::hush`].
    pub fn is_quiet(&self) -> bool {
        self.sounding.as_ref().is_none_or(|sounding| sounding.hush.is_some())
    }

    /// Strikes a note of one of its player's sounds, `wait` frames into the next block.
    pub fn strike(
        &mut self,
        pitch: u8,
        (sound, manner): (usize, Manner),
        plan: &Plan,
        pluck: Pluck,
        wait: usize,
    ) {
        for (string, filter) in self.strings.iter_mut().zip(&plan.open) {
            string.still(filter);
        }
        self.sounding = Some(Sounding {
            pitch,
            sound,
            manner,
            plan: *plan,
            pluck,
            wait,
            age: 0,
            damped_at: None,
            level: 1.0,
            hush: None,
            turn: None,
        });
    }

    /// True if it holds that note of a sound, and no hand has come down on it.
    pub fn holds(&self, pitch: u8, sound: usize) -> bool {
        self.sounding.as_ref().is_some_and(|it| {
            it.pitch == pitch && it.sound == sound && it.damped_at.is_none() && it.hush.is_none()
        })
    }

    /// The string that sounds is another note from `wait` frames into the next block on, `ratio` times as fast.
    pub fn go_on(&mut self, pitch: u8, plan: &Plan, ratio: f64, touch: Pluck, wait: usize) {
        if let Some(sounding) = &mut self.sounding {
            sounding.pitch = pitch;
            // Two within a block: the first is over before it is heard.
            if let Some(turn) = sounding.turn.take() {
                sounding.take(turn, &mut self.strings);
            }
            sounding.turn = Some(Turn { wait, ratio, plan: *plan, touch });
        }
    }

    /// Damps a note, if it is this voice's, `wait` frames into the next block, but not before it has
    /// sounded for a frame.
    pub fn damp(&mut self, pitch: u8, wait: usize) {
        if let Some(sounding) = self.sounding.as_mut().filter(|sounding| sounding.pitch == pitch) {
            let into = wait.saturating_sub(sounding.wait) as u64;
            sounding.damped_at.get_or_insert((sounding.age + into).max(1));
        }
    }

    /// Takes what sounds to silence in `frames`, from `wait` frames into the next block on, or sooner
    /// if that is under way.
    pub fn hush(&mut self, wait: usize, frames: u32) {
        if let Some(sounding) = &mut self.sounding {
            Hush::begin(&mut sounding.hush, wait, frames);
        }
    }

    /// At rest, at once.
    pub fn still(&mut self) {
        self.sounding = None;
    }

    /// Adds its next block of force on the bridge.
    pub fn add(&mut self, block: &mut [f32; QUANTUM]) {
        let Some(sounding) = &mut self.sounding else { return };
        let wait = std::mem::take(&mut sounding.wait);
        let Some(block) = block.get_mut(wait..) else { return };
        if let Some(hush) = &mut sounding.hush {
            hush.enter(wait);
        }
        match sounding.turn.take() {
            Some(turn) => {
                let place = turn.wait.saturating_sub(wait).min(block.len());
                let (before, after) = block.split_at_mut(place);
                sounding.run(&mut self.strings, before);
                sounding.take(turn, &mut self.strings);
                sounding.run(&mut self.strings, after);
            }
            None => sounding.run(&mut self.strings, block),
        }
        let gone = |at: u64| sounding.age >= at + sounding.manner.damped_frames;
        if sounding.hush.is_some_and(Hush::is_over)
            || sounding.age >= sounding.plan.life
            || sounding.damped_at.is_some_and(gone)
        {
            self.sounding = None;
        }
    }
}

impl Sounding {
    /// The string is stopped elsewhere.
    fn take(&mut self, turn: Turn, strings: &mut [StringLoop; 2]) {
        let filters = self.plan.open.iter().zip(&turn.plan.open);
        for (string, (old, new)) in strings.iter_mut().zip(filters) {
            string.retune(old, new, turn.ratio, KEPT);
        }
        self.plan = turn.plan;
        self.plan.life = self.plan.life.saturating_add(self.age);
        self.pluck = turn.touch;
    }

    /// Adds its next frames, at most a block.
    fn run(&mut self, strings: &mut [StringLoop; 2], block: &mut [f32]) {
        let sounding = self;
        let mut drives = [[0.0_f32; QUANTUM]; 2];
        let mut knocks = [0.0_f32; QUANTUM];
        if !sounding.pluck.is_over() {
            let [first, second] = &mut drives;
            let frames = first.iter_mut().zip(second).zip(&mut knocks);
            for ((first, second), knock) in frames.take(block.len()) {
                [*first, *second, *knock] = sounding.pluck.next();
            }
        }
        let length = block.len() as u64;
        let open = sounding.damped_at.map_or(length, |at| at.saturating_sub(sounding.age));
        let open = open.min(length) as usize;
        let mut motion = [0.0_f32; QUANTUM];
        let (before, after) = motion.split_at_mut(open);
        let after = after.get_mut(..block.len() - open).unwrap_or_default();
        let strings = strings.iter_mut().zip(&drives).zip(sounding.manner.shares);
        for (((string, drive), share), n) in strings.zip(0..) {
            let (before_drive, after_drive) = drive.split_at(open);
            let plan = &sounding.plan;
            if let (Some(open), Some(damped)) = (plan.open.get::<usize>(n), plan.damped.get(n)) {
                string.run(open, before_drive, share, before);
                string.run(
                    damped,
                    after_drive.get(..after.len()).unwrap_or_default(),
                    share,
                    after,
                );
            }
        }
        for frame in after {
            sounding.level *= sounding.manner.fall;
            *frame *= sounding.level;
        }
        if let Some(hush) = &mut sounding.hush {
            for (motion, knock) in motion.iter_mut().zip(&mut knocks).take(length as usize) {
                let gain = hush.next();
                *motion *= gain;
                *knock *= gain;
            }
        }
        for ((to, motion), knock) in block.iter_mut().zip(motion).zip(knocks) {
            *to += motion + knock;
        }
        sounding.age += length;
    }
}
