use std::f64::consts::FRAC_PI_2;

use super::QUANTUM;
use super::body::Body;
use super::bow_timbre::BowTimbre;
use super::saw::Saw;
use super::sound::{Make, Sound};
use super::timbre::Timbre;
use super::voice::{Manner, Plan, Voice};
use crate::perform::Instrument;
use crate::theory::MidiNote;

/// Nearer than this to where it goes, a gain is there: -100 dB.
const ARRIVED: f32 = 1e-5;

/// Left, right, and both together, into the room.
type Gains = [f32; 3];

/// An instrument in a player's hands, or beside the player's chair.
#[derive(Clone, Debug)]
pub(super) struct Held {
    pub strings: Strings,
    pub sound: Sound,
    body: Body,
    level: f64,
    /// What of it goes into the room's tail.
    room: f32,
    gains: Gains,
    wanted: Gains,
}

/// What sets its body in motion.
#[derive(Clone, Debug)]
pub(super) enum Strings {
    /// Plucked ones, with what each pitch needs, if it can be played.
    Plucked { timbre: Timbre, manner: Manner, plans: Vec<Option<Plan>> },
    /// Bowed ones, with the waves they may take.
    Bowed { timbre: BowTimbre, saw: Saw },
}

impl Held {
    /// Ready to play the pitches that `plays` gives true for.
    pub fn new(
        sound: Sound,
        instrument: Instrument,
        plays: &impl Fn(Sound, u8) -> bool,
        rate: f64,
    ) -> Self {
        let (strings, body, level, room) = match sound.make() {
            Make::Plucked(timbre) => {
                let plan = |pitch: u8| {
                    let pitch = MidiNote::new(pitch).filter(|_| plays(sound, pitch))?;
                    Plan::new(timbre, pitch, rate)
                };
                let plans = (0..128).map(plan).collect();
                let strings = Strings::Plucked { timbre, manner: Manner::new(timbre, rate), plans };
                (strings, timbre.body, timbre.level, timbre.room)
            }
            Make::Bowed(timbre) => {
                let strings = Strings::Bowed { timbre, saw: Saw::new() };
                (strings, timbre.body, timbre.level, timbre.room)
            }
        };
        let mut held = Self {
            strings,
            sound,
            body: Body::new(body, rate),
            level,
            room: room as f32,
            gains: [0.0; 3],
            wanted: [0.0; 3],
        };
        held.set(instrument);
        held.gains = held.wanted;
        held
    }

    /// The farthest back that a string of it remembers.
    pub fn reach(&self) -> usize {
        match &self.strings {
            Strings::Plucked { plans, .. } => {
                plans.iter().flatten().map(Plan::reach).max().unwrap_or(0)
            }
            Strings::Bowed { .. } => 0,
        }
    }

    /// Glides to that volume and pan.
    pub fn set(&mut self, instrument: Instrument) {
        let [left, right] = sides(instrument).map(|side| side * self.level as f32);
        self.wanted = [left, right, left.hypot(right)];
    }

    /// Its body at rest.
    pub fn still(&mut self) {
        self.body.still();
    }

    /// True if nothing sounds unless something sets it in motion.
    pub const fn is_still(&self) -> bool {
        self.body.is_still()
    }

    /// What the strings of those voices make of it in the next block: `sound` is filled. Frames go by in pieces so
    /// short that what leaves the bridge in one arrives there again in a later one.
    pub fn play(&mut self, voices: &mut [Voice], number: usize, sound: &mut [f32; QUANTUM]) {
        let mut at = 0;
        while at < QUANTUM {
            let mut frames = QUANTUM - at;
            for voice in voices.iter_mut().filter(|it| it.sound() == Some(number)) {
                frames = voice.until_next(at, frames);
            }
            let (mut up, mut along) = ([0.0; QUANTUM], [0.0; QUANTUM]);
            let (Some(up), Some(along), Some(sound)) =
                (up.get_mut(..frames), along.get_mut(..frames), sound.get_mut(at..at + frames))
            else {
                return;
            };
            let mut strings = 0.0;
            for voice in voices.iter_mut().filter(|it| it.sound() == Some(number)) {
                strings += voice.arrive(at, up, along);
            }
            self.body.meet(up, along, strings, sound);
            for voice in voices.iter_mut().filter(|it| it.sound() == Some(number)) {
                voice.settle(at, up, along);
            }
            at += frames;
        }
        voices.iter_mut().filter(|it| it.sound() == Some(number)).for_each(Voice::end_block);
        self.body.settle();
    }

    /// What the bows' force, in place, makes of it.
    pub fn sing(&mut self, force: &mut [f32; QUANTUM]) {
        self.body.sound(force);
        self.body.settle();
    }

    /// Adds its sound to both sides, to what the walls near its player throw back, and to what goes into the room's
    /// tail. `glide` is the share of the way that a change of gain goes in a block.
    pub fn add(
        &mut self,
        sound: &[f32; QUANTUM],
        glide: f32,
        left: &mut [f32; QUANTUM],
        right: &mut [f32; QUANTUM],
        near: &mut [f32; QUANTUM],
        tail: &mut [f32; QUANTUM],
    ) {
        let [mut left_gain, mut right_gain, mut send] = self.gains;
        let [left_step, right_step, send_step] = self.glide(glide);
        let sides = left.iter_mut().zip(right);
        for (((x, (left, right)), near), tail) in sound.iter().zip(sides).zip(near).zip(tail) {
            left_gain += left_step;
            right_gain += right_step;
            send += send_step;
            *left += left_gain * x;
            *right += right_gain * x;
            *near += send * x;
            *tail += self.room * send * x;
        }
    }

    /// Moves the gains on by a block and gives their step a frame.
    pub fn glide(&mut self, glide: f32) -> Gains {
        let mut steps = [0.0; 3];
        for ((gain, wanted), step) in self.gains.iter_mut().zip(self.wanted).zip(&mut steps) {
            let way = wanted - *gain;
            if way == 0.0 {
                continue;
            }
            let go = if way.abs() < ARRIVED { way } else { way * glide };
            *step = go / QUANTUM as f32;
            *gain = if go == way { wanted } else { *gain + go };
        }
        steps
    }
}

/// Gains left and right of an instrument: controller 7 as 40·log10(value/127) dB, controller 10 with
/// equal power, 64 in the middle (both as General MIDI's guidelines recommend; from memory).
fn sides(instrument: Instrument) -> [f32; 2] {
    let volume = (f64::from(instrument.volume) / 127.0).powi(2);
    let angle = (f64::from(instrument.pan.max(1)) - 1.0) / 126.0 * FRAC_PI_2;
    [angle.cos(), angle.sin()].map(|side| (volume * side) as f32)
}
