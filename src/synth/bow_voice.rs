use std::f64::consts::TAU;

use rand_core::{Rng, SeedableRng};
use rand_pcg::Pcg32;

use super::QUANTUM;
use super::bow_timbre::BowTimbre;
use super::hush::Hush;
use super::loop_filter::LN_1000;
use super::one_pole::OnePole;
use super::saw::{Saw, Wave};

/// A note that ends within so many milliseconds was a chop: the bow, thrown on the string, stays there.
pub(super) const CHOP_MS: f64 = 120.0;

/// Frames of a note from one reckoning of its slow motions (strength, vibrato) to the next; in between
/// they run straight. They count from the note's own beginning, so nothing hangs on where a block
/// begins.
const STEP: u64 = 32;

/// How far a note falls before it counts as gone, in units of 60 dB: 100 dB.
const GONE: f64 = 100.0 / 60.0;

/// A steady hand's wandering: cents (root of the mean square), and hertz.
const WANDER_CENTS: f64 = 1.0;
const WANDER_HZ: f64 = 3.0;

/// Seconds over which the vibrato widens.
const WIDENING: f64 = 0.35;

/// A bow stroke grows on for so many seconds, from this share of its strength.
const SWELL_SECONDS: f64 = 0.8;
const SWELL_FROM: f64 = 0.85;

/// The unsteadiness of an attack is noise below this many hertz.
const UNSTEADY_HZ: f64 = 260.0;

/// Cents to a share of the frequency, for few of them: ln 2 / 1200.
const CENT: f64 = std::f64::consts::LN_2 / 1_200.0;

/// A stroke of the bow.
#[derive(Clone, Copy, Debug)]
pub(super) struct BowStroke {
    /// Which of its player's sounds it has.
    pub sound: usize,
    /// The note, as messages name it.
    pub pitch: u8,
    /// Its frequency in hertz.
    pub hz: f64,
    /// 1 to 127.
    pub velocity: u8,
    /// Picks the noise.
    pub seed: u64,
}

/// A bowed note that sounds, or room for one.
///
/// The wave of a string in [Helmholtz motion](Saw) under a bow: for the first hundredths of a second
/// the hairs scratch and the string has not settled; then the tone holds, wanders by a cent, and rocks
/// when it is held long. The hiss of the hairs comes in bursts, one a period (Chafe, "Pulsed noise in
/// self-sustained oscillations of musical instruments", ICASSP 1990; from memory).
#[derive(Clone, Debug, Default)]
pub(super) struct BowVoice {
    sounding: Option<Bowing>,
}

#[derive(Clone, Debug)]
struct Bowing {
    stroke: BowStroke,
    timbre: BowTimbre,
    rate: f64,
    wave: Wave,
    /// 0 to 1.
    phase: f64,
    /// Frames of the block before the stroke.
    wait: usize,
    /// Frames since the stroke.
    age: u64,
    /// The age at which the bow leaves, the share that is left from frame to frame then, and the frames
    /// until nothing is.
    left_at: Option<u64>,
    fall: f32,
    falling: u64,
    level: f32,
    hush: Option<Hush>,
    /// The age at which the finger that sounds came down, and at which another will, with its frequency.
    stopped_at: u64,
    turn: Option<(u64, f64)>,
    strength: f32,
    scratch: f32,
    scratch_fall: f32,
    attack: f64,
    /// The slow motions: the tone's strength, how unsteady it is, its frequency in periods a frame, and by
    /// how much each changes from frame to frame.
    tone: Ramp,
    unsteady: Ramp,
    pace: Ramp,
    wander: OnePole,
    wander_gain: f64,
    round: [OnePole; 2],
    noise: OnePole,
    shake: OnePole,
    shake_gain: f32,
    random: Pcg32,
}

/// What runs straight for a step.
#[derive(Clone, Copy, Debug, Default)]
struct Ramp {
    now: f64,
    by: f64,
}

impl Ramp {
    fn aim(&mut self, at: f64) {
        self.by = (at - self.now) / STEP as f64;
    }

    fn next(&mut self) -> f64 {
        self.now += self.by;
        self.now
    }
}

/// What it takes to bring noise through a one-pole back to its own size.
fn restored(pole_hz: f64, rate: f64) -> f64 {
    let share = 1.0 - (-TAU * pole_hz.min(0.49 * rate) / rate).exp();
    ((2.0 - share) / share).sqrt()
}

/// From 0 to 1 without a corner.
fn smooth(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// Frames that a note takes to be gone once the bow has left the string.
pub(super) fn released_frames(timbre: BowTimbre, rate: f64) -> u64 {
    (timbre.release_ms.max(timbre.choke_ms) / 1_000.0 * GONE * rate) as u64
}

impl BowVoice {
    /// Which of its player's sounds it has; `None` at rest.
    pub fn sound(&self) -> Option<usize> {
        self.sounding.as_ref().map(|sounding| sounding.stroke.sound)
    }

    /// Frames since the stroke, or `None` at rest.
    pub fn age(&self) -> Option<u64> {
        self.sounding.as_ref().map(|sounding| sounding.age)
    }

    /// True at rest or on the way to it under [`Self::hush`].
    pub fn is_quiet(&self) -> bool {
        self.sounding.as_ref().is_none_or(|sounding| sounding.hush.is_some())
    }

    /// Sets the bow on, `wait` frames into the next block.
    pub fn strike(&mut self, timbre: BowTimbre, stroke: BowStroke, rate: f64, wait: usize) {
        self.sounding = Some(Bowing::new(timbre, stroke, rate, wait));
    }

    /// True if it holds that note of a sound, and the bow is on the string.
    pub fn holds(&self, pitch: u8, sound: usize) -> bool {
        self.sounding.as_ref().is_some_and(|it| {
            (it.stroke.pitch, it.stroke.sound) == (pitch, sound)
                && it.left_at.is_none()
                && it.hush.is_none()
        })
    }

    /// The bow goes on, and a finger makes another note of it from `wait` frames into the next block on.
    pub fn go_on(&mut self, pitch: u8, hz: f64, wait: usize) {
        if let Some(bowing) = &mut self.sounding {
            bowing.stroke.pitch = pitch;
            let into = wait.saturating_sub(bowing.wait) as u64;
            bowing.turn = Some((bowing.age + into, hz));
        }
    }

    /// Ends a note, if it is this voice's, `wait` frames into the next block, but not before it has
    /// sounded for a frame.
    pub fn damp(&mut self, pitch: u8, wait: usize) {
        let Some(bowing) = self.sounding.as_mut().filter(|it| it.stroke.pitch == pitch) else {
            return;
        };
        if bowing.left_at.is_some() {
            return;
        }
        let into = wait.saturating_sub(bowing.wait) as u64;
        let at = (bowing.age + into).max(1);
        let chop = (at as f64) < CHOP_MS / 1_000.0 * bowing.rate;
        let millis = if chop { bowing.timbre.choke_ms } else { bowing.timbre.release_ms };
        let frames = millis / 1_000.0 * bowing.rate;
        bowing.fall = (-LN_1000 / frames.max(1.0)).exp() as f32;
        bowing.falling = (frames * GONE) as u64;
        bowing.left_at = Some(at);
    }

    /// Takes what sounds to silence in `frames`, from `wait` frames into the next block on, or sooner
    /// if that is under way.
    pub fn hush(&mut self, wait: usize, frames: u32) {
        if let Some(bowing) = &mut self.sounding {
            Hush::begin(&mut bowing.hush, wait, frames);
        }
    }

    /// At rest, at once.
    pub fn still(&mut self) {
        self.sounding = None;
    }

    /// Adds its next block of force on the bridge.
    pub fn add(&mut self, saw: &Saw, block: &mut [f32; QUANTUM]) {
        let Some(bowing) = &mut self.sounding else { return };
        let wait = std::mem::take(&mut bowing.wait);
        let Some(block) = block.get_mut(wait..) else { return };
        if let Some(hush) = &mut bowing.hush {
            hush.enter(wait);
        }
        for frame in block {
            let force = bowing.next(saw);
            *frame += bowing.hush.as_mut().map_or(force, |hush| force * hush.next());
        }
        let gone = bowing.left_at.is_some_and(|at| bowing.age >= at + bowing.falling);
        if gone || bowing.hush.is_some_and(Hush::is_over) {
            self.sounding = None;
        }
    }
}

impl Bowing {
    fn new(timbre: BowTimbre, stroke: BowStroke, rate: f64, wait: usize) -> Self {
        let hardness = f64::from(stroke.velocity) / 127.0;
        let pole = |hz: f64| OnePole::new(hz, rate);
        let round = pole(BowTimbre::at(timbre.round_hz, hardness));
        // The bow's force grows with velocity as a plectrum's does.
        let strength = hardness.powf(1.5);
        let (scratch, scratch_ms) = timbre.scratch;
        let ticks = rate / STEP as f64;
        Self {
            timbre,
            rate,
            wave: Saw::fitting(stroke.hz, rate),
            phase: 0.0,
            wait,
            age: 0,
            left_at: None,
            fall: 1.0,
            falling: 0,
            level: 1.0,
            hush: None,
            stopped_at: 0,
            turn: None,
            strength: strength as f32,
            scratch: scratch as f32,
            scratch_fall: (-1_000.0 / (scratch_ms * rate)).exp() as f32,
            attack: BowTimbre::at(timbre.attack_ms, hardness) / 1_000.0,
            tone: Ramp::default(),
            unsteady: Ramp { now: timbre.unsteady, by: 0.0 },
            pace: Ramp { now: stroke.hz / rate, by: 0.0 },
            wander: OnePole::new(WANDER_HZ, ticks),
            wander_gain: WANDER_CENTS * restored(WANDER_HZ, ticks) * 3.0_f64.sqrt(),
            round: [round, round],
            noise: pole(timbre.noise_hz),
            shake: pole(UNSTEADY_HZ),
            shake_gain: restored(UNSTEADY_HZ, rate) as f32,
            random: Pcg32::seed_from_u64(stroke.seed),
            stroke,
        }
    }

    /// From -1 to 1.
    fn white(&mut self) -> f32 {
        (f64::from(self.random.next_u32()) / f64::from(u32::MAX) * 2.0 - 1.0) as f32
    }

    /// Where the slow motions will be a step from now.
    fn aim(&mut self) {
        if let Some((at, hz)) = self.turn
            && self.age >= at
        {
            self.stroke.hz = hz;
            self.wave = Saw::fitting(hz, self.rate);
            self.stopped_at = self.age;
            self.turn = None;
        }
        let seconds = (self.age + STEP) as f64 / self.rate;
        let grown = smooth(seconds / self.attack);
        let swell = SWELL_FROM + (1.0 - SWELL_FROM) * smooth(seconds / SWELL_SECONDS);
        self.tone.aim(grown * swell);
        self.unsteady.aim(self.timbre.unsteady * (1.0 - grown));
        let (cents, hz, after) = self.timbre.vibrato;
        // The hand rocks anew on each note.
        let held = (self.age - self.stopped_at + STEP) as f64 / self.rate;
        let wide = cents * smooth((held - after) / WIDENING);
        let rocking = wide * (TAU * hz * (held - after)).sin();
        let white = self.white();
        let wandering = self.wander_gain * f64::from(self.wander.low(white));
        let ratio = 1.0 + CENT * (rocking + wandering);
        self.pace.aim(self.stroke.hz / self.rate * ratio);
    }

    /// The next frame of its force.
    #[inline]
    fn next(&mut self, saw: &Saw) -> f32 {
        if self.age.is_multiple_of(STEP) {
            self.aim();
        }
        let white = self.white();
        let noise = self.noise.low(white);
        let shake = self.shake_gain * self.shake.low(white);
        let steady = 1.0 + self.unsteady.next() as f32 * shake;
        let tone = self.tone.next() as f32;
        self.phase += self.pace.next();
        self.phase -= self.phase.floor();
        let wave = saw.at(self.wave, self.phase) * steady;
        // Where the string slips back, the hairs hiss.
        let slip = (self.phase * self.phase * self.phase) as f32;
        let hiss = self.timbre.hiss as f32 * noise * slip * slip;
        let [first, second] = &mut self.round;
        let rounded = second.low(first.low(wave));
        let force = tone * (rounded + hiss) + self.scratch * noise;
        self.scratch *= self.scratch_fall;
        if self.left_at.is_some_and(|at| self.age >= at) {
            self.level *= self.fall;
        }
        self.age += 1;
        self.strength * self.level * force
    }
}
