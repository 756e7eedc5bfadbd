use std::f64::consts::TAU;

use super::QUANTUM;
use super::loop_filter::LN_1000;
use super::one_pole::OnePole;
use super::resonances::{Resonance, Resonances};

/// Modes above this many hertz move the bridge along the top by turns to one side and the other. Below, where a note
/// has its fundamental, both planes are heard in step: else it would seem to slide as the one gives way to the other.
const ONE_SIDE: f64 = 900.0;

/// One resonance of a body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct BodyMode {
    /// Its frequency in hertz.
    pub hz: f64,
    /// Seconds in which it falls by 60 dB.
    pub ring: f64,
    /// How strongly it radiates, of a force at its frequency. A negative one moves the other way. Of 0 it takes from the
    /// strings and is not heard, and moves the bridge straight up: so what it leaves of a note is still in step.
    pub gain: f64,
    /// How far the bridge gives way to a string at its frequency: the nepers that a vibration at right angles to
    /// the top loses in a round trip.
    pub give: f64,
}

/// How an instrument's body takes the motion of its strings at the bridge, and turns it into sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct BodyShape {
    /// The resonances of air and plates that stand out.
    pub modes: &'static [BodyMode],
    /// What the bridge gives way at every frequency, as [`BodyMode::give`], at right angles to the top alone.
    pub give: f64,
    /// How far a mode moves the bridge along the top too, and is moved from there, as the sine of its angle.
    pub lean: f64,
    /// The gain of all that is not told mode by mode.
    pub direct: f64,
    /// From which frequency in hertz, and by how much, it radiates better: short waves leave a plate
    /// more readily than long ones.
    pub presence: (f64, f64),
    /// Below this, in hertz, the body is too small to radiate.
    pub smallest_hz: f64,
    /// Above this, in hertz, the body's mass holds it still.
    pub stiffest_hz: f64,
}

/// A body in motion, and the bridge through which its strings are coupled.
///
/// All strings of an instrument end at one bridge that gives way to the sum of their forces, and each is reflected
/// there by what it gave way: the scattering junction of strings at a common bridge (Smith, "Physical Audio Signal
/// Processing", "Two ideal strings coupled at an impedance"). It moves at right angles to the top and, less, along
/// it, as the two planes in which a string swings do; so the one plane dies away early and the other late (Woodhouse,
/// "A necessary condition for double decay envelopes", J. Acoust. Soc. Am. 150, 2021). The bridge's admittance is
/// the sum of the body's modes, each a positive-real section of second order times its own direction; the same modes,
/// with gains of their own, radiate the sound (Bank and Karjalainen, "Passive admittance matrix modeling for guitar
/// synthesis", DAFx-10).
///
/// Half of a frame's force counts before it and half after: so the sum is passive, and no string can gain by it.
#[derive(Clone, Debug)]
pub(super) struct Body {
    resonances: Resonances,
    /// What the bridge gives way to a force within the frame: up to one upwards, along to one along, and each to
    /// the other.
    at_once: [f32; 3],
    /// How much of a force along the top is heard of what is not told mode by mode.
    lean: f32,
    /// What is heard of a frame's force upwards and along at once.
    direct: [f32; 2],
    presence: f32,
    floor: OnePole,
    rise: OnePole,
    top: [OnePole; 2],
    still: bool,
}

impl BodyShape {
    /// The direction in which a mode moves the bridge: how much of it is at right angles to the top, and how much
    /// along it. `lane` is its place among the modes.
    fn direction(&self, lane: usize, mode: &BodyMode) -> [f64; 2] {
        if mode.gain == 0.0 {
            return [1.0, 0.0];
        }
        let other_side = mode.hz > ONE_SIDE && !lane.is_multiple_of(2);
        let upright = (1.0 - self.lean * self.lean).sqrt();
        [upright, if other_side { -self.lean } else { self.lean }]
    }

    /// Its modes at a rate with their directions.
    fn audible(&self, rate: f64) -> impl Iterator<Item = (&BodyMode, [f64; 2])> {
        let audible = self.modes.iter().filter(move |mode| mode.hz < 0.45 * rate);
        audible.enumerate().map(|(lane, mode)| (mode, self.direction(lane, mode)))
    }
}

impl Body {
    /// At rest. Modes above 0.45 of the rate are left out.
    pub fn new(shape: &BodyShape, rate: f64) -> Self {
        let top = OnePole::new(shape.stiffest_hz, rate);
        // What gives way at every frequency does so at right angles to the top: so what is left of the plane along
        // it is heard in step with what was there of the other, and no note slides as the one gives way to the other.
        let mut at_once = [shape.give, 0.0, 0.0];
        let mut far = [0.0; 2];
        let mut all = Vec::new();
        for (mode, way) in shape.audible(rate) {
            let BodyMode { hz, ring, gain, give } = *mode;
            all.push(Resonance { hz, ring, gain, give, way });
            let [upright, along] = way;
            let shrink = (-LN_1000 / (mode.ring * rate)).exp();
            // What sounds within the frame, at any frequency.
            let sound = (1.0 - shrink) * mode.gain;
            far = [far[0] + sound * upright, far[1] + sound * along];
            let now = mode.give * (1.0 - shrink);
            for (sum, part) in
                at_once.iter_mut().zip([upright * upright, along * along, upright * along])
            {
                *sum += now * part;
            }
        }
        // Modes that move to either side along the top cancel where both planes are heard far from all of them: there a
        // note would slide as the one plane gives way to the other. So what they lack together is heard besides.
        let level = shape.lean * far[0] - far[1];
        let resonances = Resonances::new(&all, rate);
        let [heard_up, heard_along] = resonances.heard().map(f64::from);
        let direct = [heard_up + shape.direct, heard_along + level + shape.direct * shape.lean];
        Self {
            resonances,
            at_once: at_once.map(|now| now as f32),
            lean: shape.lean as f32,
            direct: direct.map(|part| part as f32),
            presence: shape.presence.1 as f32,
            rise: OnePole::new(shape.presence.0, rate),
            floor: OnePole::new(shape.smallest_hz, rate),
            top: [top, top],
            still: true,
        }
    }

    /// True if no force still sounds.
    pub const fn is_still(&self) -> bool {
        self.still
    }

    /// By how many radians the bridge turns the phase of so many strings at `hz` that move together, at right angles to
    /// the top or `along` it: a share of a turn that their round trip lasts longer.
    pub fn turn(shape: &BodyShape, hz: f64, along: bool, strings: f64, rate: f64) -> f64 {
        // The admittance on the unit circle, mode by mode.
        let omega = TAU * hz / rate;
        let (mut re, mut im) = (if along { 0.0 } else { shape.give }, 0.0);
        for (mode, direction) in shape.audible(rate) {
            let share = direction[usize::from(along)].powi(2);
            let shrink = (-LN_1000 / (mode.ring * rate)).exp();
            let turn = TAU * mode.hz / rate;
            let give = mode.give * share * (1.0 - shrink);
            for turn in [turn, -turn] {
                // 1 / (1 − shrink·e^j(turn − omega))
                let (sin, cos) = (turn - omega).sin_cos();
                let (x, y) = (1.0 - shrink * cos, -shrink * sin);
                let scale = give / (x * x + y * y);
                re += scale * x;
                im -= scale * y;
            }
            re -= give;
        }
        let (re, im) = (strings / 2.0 * re, strings / 2.0 * im);
        // The phase of (1 − Y)/(1 + Y).
        (-im).atan2(1.0 - re) - im.atan2(1.0 + re)
    }

    /// What `force`, in place, moves the body to sound, while nothing at the bridge gives way: as strings under a bow
    /// force it.
    pub fn sound(&mut self, force: &mut [f32; QUANTUM]) {
        for frame in force {
            *frame = self.radiated(*frame, 0.0);
        }
    }

    /// The next frames of strings that meet at the bridge. `up` and `along` are the sums of what arrives in the two
    /// planes of so many strings (less of one that is being damped); what comes back in them is how the bridge gives
    /// way. `sound` is filled.
    pub fn meet(&mut self, up: &mut [f32], along: &mut [f32], strings: f32, sound: &mut [f32]) {
        let half = strings / 2.0;
        let [once_up, once_along, once_across] = self.at_once;
        // The bridge moves by itself and by what is left of the force as it moves: two equations.
        let (a, b, c) = (1.0 + once_up * half, 1.0 + once_along * half, once_across * half);
        let whole = 1.0 / (a * b - c * c);
        let (a, b, c) = (a * whole, b * whole, c * whole);
        for ((up, along), sound) in up.iter_mut().zip(along).zip(sound) {
            let [moving_up, moving_along] = self.resonances.moving();
            let x = moving_up + (once_up * *up + once_across * *along);
            let y = moving_along + (once_along * *along + once_across * *up);
            let (bridge_up, bridge_along) = (b * x - c * y, a * y - c * x);
            *sound = self.radiated(*up - half * bridge_up, *along - half * bridge_along);
            (*up, *along) = (bridge_up, bridge_along);
        }
    }

    #[inline]
    fn radiated(&mut self, up: f32, along: f32) -> f32 {
        let modes = self.resonances.next([up, along]);
        let at_once = self.direct[0] * up + self.direct[1] * along;
        let all = modes + at_once + self.presence * self.rise.high(up + self.lean * along);
        let [first, second] = &mut self.top;
        second.low(first.low(self.floor.high(all)))
    }

    /// Sets what has died away to rest; tells [`Self::is_still`].
    pub fn settle(&mut self) {
        self.still = self.resonances.settle();
        let [first, second] = &mut self.top;
        for pole in [&mut self.floor, &mut self.rise, first, second] {
            self.still &= pole.settle();
        }
    }

    /// At rest.
    pub fn still(&mut self) {
        self.resonances.still();
        self.floor.still();
        self.rise.still();
        self.top.iter_mut().for_each(OnePole::still);
        self.still = true;
    }
}
