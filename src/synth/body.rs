use super::QUANTUM;
use super::modes::{Mode, ModeBank};
use super::one_pole::OnePole;

/// How an instrument's body turns the force of its strings at the bridge into sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct BodyShape {
    /// The resonances of air and plates that stand out.
    pub modes: &'static [Mode],
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

/// A body in motion.
#[derive(Clone, Debug)]
pub(super) struct Body {
    modes: ModeBank,
    direct: f32,
    presence: f32,
    floor: OnePole,
    rise: OnePole,
    top: OnePole,
    still: bool,
}

impl Body {
    /// At rest.
    pub fn new(shape: &BodyShape, rate: f64) -> Self {
        Self {
            modes: ModeBank::new(shape.modes, rate),
            direct: shape.direct as f32,
            presence: shape.presence.1 as f32,
            rise: OnePole::new(shape.presence.0, rate),
            floor: OnePole::new(shape.smallest_hz, rate),
            top: OnePole::new(shape.stiffest_hz, rate),
            still: true,
        }
    }

    /// True if no force still sounds.
    pub const fn is_still(&self) -> bool {
        self.still
    }

    /// Turns force into sound, in place.
    pub fn sound(&mut self, block: &mut [f32; QUANTUM]) {
        for frame in block {
            let force = self.floor.high(*frame);
            *frame = self.top.low(
                self.modes.next(force)
                    + self.direct * force
                    + self.presence * self.rise.high(force),
            );
        }
        let poles = [&mut self.floor, &mut self.rise, &mut self.top].map(OnePole::settle);
        self.still = self.modes.settle() && poles == [true; 3];
    }

    /// At rest.
    pub fn still(&mut self) {
        self.modes.still();
        self.floor.still();
        self.rise.still();
        self.top.still();
        self.still = true;
    }
}
