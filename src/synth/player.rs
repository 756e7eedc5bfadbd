use std::f64::consts::FRAC_PI_2;

use super::QUANTUM;
use super::body::Body;
use super::pluck::Pluck;
use super::timbre::Timbre;
use super::voice::{Plan, Voice};
use crate::chart::Role;
use crate::perform::Instrument;
use crate::theory::MidiNote;

/// Seconds in which a change of volume or pan gets two thirds of the way: it makes no click, and is
/// there at once for the ear.
const GLIDE: f64 = 0.005;

/// Nearer than this to where it goes, a gain is there: -100 dB.
const ARRIVED: f32 = 1e-5;

/// One member of the band, playing what it is told.
#[derive(Clone, Debug)]
pub(super) struct Player {
    timbre: Timbre,
    rate: f64,
    role: Role,
    instrument: Instrument,
    plans: Vec<Option<Plan>>,
    voices: Vec<Voice>,
    body: Body,
    gains: Gains,
    wanted: Gains,
    glide: f32,
    /// How often each pitch has been struck.
    struck: [u32; 128],
}

/// Left, right, and into the room.
type Gains = [f32; 3];

/// Gains left and right of an instrument: controller 7 as 40·log10(value/127) dB, controller 10 with
/// equal power, 64 in the middle (both as General MIDI's guidelines recommend; from memory).
fn sides(instrument: Instrument) -> [f32; 2] {
    let volume = (f64::from(instrument.volume) / 127.0).powi(2);
    let angle = (f64::from(instrument.pan.max(1)) - 1.0) / 126.0 * FRAC_PI_2;
    [angle.cos(), angle.sin()].map(|side| (volume * side) as f32)
}

fn gains(timbre: Timbre, instrument: Instrument) -> Gains {
    let [left, right] = sides(instrument).map(|side| side * timbre.level as f32);
    [left, right, (timbre.room * f64::from(left.hypot(right))) as f32]
}

impl Player {
    /// Ready to play the pitches that `plays` gives true for, `most` notes at once, those that are
    /// being damped included; when more are struck, the oldest gives way.
    pub fn new(
        role: Role,
        instrument: Instrument,
        plays: impl Fn(u8) -> bool,
        most: usize,
        sample_rate: u32,
    ) -> Self {
        let rate = f64::from(sample_rate);
        let timbre = Timbre::of(role);
        let plan = |pitch: u8| {
            MidiNote::new(pitch)
                .filter(|_| plays(pitch))
                .and_then(|pitch| Plan::new(timbre, pitch, rate))
        };
        let plans: Vec<Option<Plan>> = (0..128).map(plan).collect();
        let reach = plans.iter().flatten().map(Plan::reach).max().unwrap_or(0);
        let gains = gains(timbre, instrument);
        Self {
            timbre,
            rate,
            role,
            instrument,
            plans,
            voices: vec![Voice::new(timbre, reach, rate); most],
            body: Body::new(timbre.body, rate),
            gains,
            wanted: gains,
            glide: (1.0 - (-(QUANTUM as f64) / (GLIDE * rate)).exp()) as f32,
            struck: [0; 128],
        }
    }

    /// Its channel.
    pub const fn channel(&self) -> u8 {
        self.role.channel()
    }

    /// Strikes a note `wait` frames into the next block. A pitch that it has no plan for stays silent.
    pub fn strike(&mut self, pitch: MidiNote, velocity: u8, wait: usize) {
        let number = usize::from(pitch.get());
        let Some(Some(plan)) = self.plans.get(number) else { return };
        let Some(times) = self.struck.get_mut(number) else { return };
        *times = times.wrapping_add(1);
        let seed = seed(self.role, pitch, velocity, *times);
        let stroke = self.timbre.stroke(pitch.get(), pitch.hertz(), velocity, self.rate, seed);
        // A resting voice, or else the oldest.
        let voice = self.voices.iter_mut().max_by_key(|voice| voice.age().unwrap_or(u64::MAX));
        if let Some(voice) = voice {
            voice.strike(pitch.get(), plan, Pluck::new(stroke), wait);
        }
    }

    /// Lets go of a note `wait` frames into the next block.
    pub fn damp(&mut self, pitch: MidiNote, wait: usize) {
        self.voices.iter_mut().for_each(|voice| voice.damp(pitch.get(), wait));
    }

    /// Brings every note to silence in `frames`, from `wait` frames into the next block on.
    pub fn hush(&mut self, wait: usize, frames: u32) {
        self.voices.iter_mut().for_each(|voice| voice.hush(wait, frames));
    }

    /// True if nothing sounds but what is being hushed.
    pub fn is_quiet(&self) -> bool {
        self.voices.iter().all(Voice::is_quiet)
    }

    /// Nothing rings any more, body included.
    pub fn still(&mut self) {
        self.voices.iter_mut().for_each(Voice::still);
        self.body.still();
    }

    /// Changes the volume or the pan; other controllers mean nothing to strings.
    pub fn control(&mut self, controller: u8, value: u8) {
        match controller {
            7 => self.instrument.volume = value,
            10 => self.instrument.pan = value,
            _ => return,
        }
        self.wanted = gains(self.timbre, self.instrument);
    }

    /// Adds the next block to both sides and to what goes into the room.
    pub fn add(
        &mut self,
        left: &mut [f32; QUANTUM],
        right: &mut [f32; QUANTUM],
        room: &mut [f32; QUANTUM],
    ) {
        let mut block = [0.0; QUANTUM];
        for voice in &mut self.voices {
            voice.add(&mut block);
        }
        self.body.sound(&mut block);
        let [mut left_gain, mut right_gain, mut send] = self.gains;
        let [left_step, right_step, send_step] = self.glide();
        for (((x, left), right), room) in block.iter().zip(left).zip(right).zip(room) {
            left_gain += left_step;
            right_gain += right_step;
            send += send_step;
            *left += left_gain * x;
            *right += right_gain * x;
            *room += send * x;
        }
    }

    /// Moves the gains on by a block and gives their step a frame.
    fn glide(&mut self) -> Gains {
        let mut steps = [0.0; 3];
        for ((gain, wanted), step) in self.gains.iter_mut().zip(self.wanted).zip(&mut steps) {
            let way = wanted - *gain;
            if way == 0.0 {
                continue;
            }
            let go = if way.abs() < ARRIVED { way } else { way * self.glide };
            *step = go / QUANTUM as f32;
            *gain = if go == way { wanted } else { *gain + go };
        }
        steps
    }
}

/// What picks the noise of a stroke. It hangs on the role's own playing alone: whoever else plays,
/// the same stroke scrapes the same way, live as in a file.
fn seed(role: Role, pitch: MidiNote, velocity: u8, times: u32) -> u64 {
    let mut seed = u64::from(times) ^ ((role as u64) << 56);
    seed ^= u64::from(pitch.get()) << 48 | u64::from(velocity) << 40;
    // The finaliser of SplitMix64 (Steele, Lea and Flood 2014): neighbours come out unlike.
    seed = (seed ^ (seed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    seed = (seed ^ (seed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    seed ^ (seed >> 31)
}
