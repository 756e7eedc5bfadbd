use std::f64::consts::TAU;

use super::loop_filter::LN_1000;

/// Below this a state is taken for stillness: -400 dB. Numbers far smaller slow a processor down.
const STILL: f32 = 1e-20;

/// Resonances side by side: as many as a vector register has places on every processor.
const SIDE: usize = 4;

/// What one resonance is told.
#[derive(Clone, Copy, Debug)]
pub(super) struct Resonance {
    /// Its frequency in hertz, and the seconds in which it falls by 60 dB.
    pub hz: f64,
    pub ring: f64,
    /// How strongly it sounds of a force at its frequency, and how far the bridge gives way by it.
    pub gain: f64,
    pub give: f64,
    /// How much of a force upwards and of one along moves it, and how it moves the bridge.
    pub way: [f64; 2],
}

/// The resonances of a body that a bridge drives, and that drive the bridge.
///
/// Each is a complex number turned and shrunk every frame, which stays exact at low frequencies where a direct-form
/// filter in single precision does not. Those that lie in one direction share their force. What moves the bridge is
/// summed a frame before it is wanted, less what the frame's own force adds: so a processor need not wait for the sum
/// of one frame before it begins the next.
#[derive(Clone, Debug)]
pub(super) struct Resonances {
    sides: Vec<Side>,
    /// What a frame's force upwards and along adds to the bridge's motion in the next: up by up, along by along, each
    /// by the other.
    soon: [f32; 3],
    now: [f32; 2],
    next: [f32; 2],
    /// What sounds of a frame's force at once, upwards and along.
    heard: [f32; 2],
}

/// Those that lie in one direction.
#[derive(Clone, Debug)]
struct Side {
    way: [f32; 2],
    fours: Vec<Four>,
}

/// Some of them, in units of what a force of one adds in a frame.
#[derive(Clone, Copy, Debug, Default)]
struct Four {
    re: [f32; SIDE],
    im: [f32; SIDE],
    cos: [f32; SIDE],
    sin: [f32; SIDE],
    gain: [f32; SIDE],
    /// What the bridge moves by in the next frame but one, of either part.
    ahead_re: [f32; SIDE],
    ahead_im: [f32; SIDE],
}

impl Resonances {
    /// At rest. Takes memory.
    pub fn new(all: &[Resonance], rate: f64) -> Self {
        let mut sides: Vec<(Side, usize)> = Vec::new();
        let (mut soon, mut heard) = ([0.0; 3], [0.0; 2]);
        for resonance in all {
            let Resonance { hz, ring, gain, give, way: [up, along] } = *resonance;
            let shrink = (-LN_1000 / (ring * rate)).exp();
            let (sin, cos) = (TAU * hz / rate).sin_cos();
            let (cos, sin) = (shrink * cos, shrink * sin);
            // A steady tone at the mode's frequency comes out at about 1 / (2·(1 − shrink)).
            let drive = 2.0 * (1.0 - shrink);
            let (gain, give) = (gain * drive, give * drive);
            for (sum, part) in soon.iter_mut().zip([up * up, along * along, up * along]) {
                *sum += give * cos * part;
            }
            heard = [heard[0] + gain * up, heard[1] + gain * along];
            let way = [up as f32, along as f32];
            let found = sides.iter().position(|(side, _)| side.way == way);
            let found = found.unwrap_or_else(|| {
                sides.push((Side { way, fours: Vec::new() }, 0));
                sides.len() - 1
            });
            let Some((side, count)) = sides.get_mut(found) else { continue };
            let lane = *count % SIDE;
            *count += 1;
            if lane == 0 {
                side.fours.push(Four::default());
            }
            let Some(four) = side.fours.last_mut() else { continue };
            four.cos[lane] = cos as f32;
            four.sin[lane] = sin as f32;
            four.gain[lane] = gain as f32;
            four.ahead_re[lane] = (give * cos) as f32;
            four.ahead_im[lane] = (give * sin) as f32;
        }
        Self {
            sides: sides.into_iter().map(|(side, _)| side).collect(),
            soon: soon.map(|part| part as f32),
            now: [0.0; 2],
            next: [0.0; 2],
            heard: heard.map(|part| part as f32),
        }
    }

    /// What sounds of a frame's force at once, upwards and along, beside [`Self::next`].
    pub const fn heard(&self) -> [f32; 2] {
        self.heard
    }

    /// How the bridge moves in the next frame by itself, up and along.
    pub const fn moving(&self) -> [f32; 2] {
        self.now
    }

    /// The next frame under a force upwards and along: what sounds, less what does at once.
    #[inline]
    pub fn next(&mut self, [up, along]: [f32; 2]) -> f32 {
        let (mut sound, mut ups, mut alongs) = ([0.0_f32; SIDE], [0.0_f32; SIDE], [0.0_f32; SIDE]);
        for side in &mut self.sides {
            let force = up * side.way[0] + along * side.way[1];
            let mut ahead = [0.0_f32; SIDE];
            for four in &mut side.fours {
                for lane in 0..SIDE {
                    sound[lane] += four.re[lane] * four.gain[lane];
                    let (re, im) = (four.re[lane] + force, four.im[lane]);
                    let turned = four.cos[lane] * re - four.sin[lane] * im;
                    let across = four.sin[lane] * re + four.cos[lane] * im;
                    ahead[lane] += four.ahead_re[lane] * turned - four.ahead_im[lane] * across;
                    four.re[lane] = turned;
                    four.im[lane] = across;
                }
            }
            for lane in 0..SIDE {
                ups[lane] += side.way[0] * ahead[lane];
                alongs[lane] += side.way[1] * ahead[lane];
            }
        }
        let sum = |[a, b, c, d]: [f32; SIDE]| (a + c) + (b + d);
        let ([by_up, by_along, across], [next_up, next_along]) = (self.soon, self.next);
        self.now = [
            next_up + (by_up * up + across * along),
            next_along + (by_along * along + across * up),
        ];
        self.next = [sum(ups), sum(alongs)];
        sum(sound)
    }

    /// Sets what has died away to rest; gives true if all has.
    pub fn settle(&mut self) -> bool {
        let mut still = true;
        for four in self.sides.iter_mut().flat_map(|side| &mut side.fours) {
            for state in four.re.iter_mut().chain(&mut four.im) {
                if state.abs() < STILL {
                    *state = 0.0;
                } else {
                    still = false;
                }
            }
        }
        if still {
            (self.now, self.next) = ([0.0; 2], [0.0; 2]);
        }
        still
    }

    /// At rest.
    pub fn still(&mut self) {
        for four in self.sides.iter_mut().flat_map(|side| &mut side.fours) {
            (four.re, four.im) = ([0.0; SIDE], [0.0; SIDE]);
        }
        (self.now, self.next) = ([0.0; 2], [0.0; 2]);
    }
}
