use super::QUANTUM;

/// No sample leaves larger than this: -1.5 dBFS, which leaves room for the peaks between samples.
pub const CEILING: f32 = 0.841;

/// A look-ahead peak limiter for two channels.
///
/// It holds one block back. The gain runs straight from one block's edge to the next, and at an
/// edge it is no more than either neighbour allows, so within a block it is never more than that
/// block allows: the ceiling holds for every sample, without a step in the gain.
#[derive(Clone, Debug)]
pub struct Limiter {
    held: [[f32; QUANTUM]; 2],
    allowed: f32,
    edge: f32,
    recover: f32,
}

impl Limiter {
    /// At full gain, holding a block of silence.
    pub fn new(sample_rate: u32) -> Self {
        // Back to full gain from nothing in 0.4 s: slow enough not to be heard as pumping.
        let recover = QUANTUM as f32 / (0.4 * sample_rate.max(1) as f32);
        Self { held: [[0.0; QUANTUM]; 2], allowed: 1.0, edge: 1.0, recover }
    }

    /// Takes the next block, gives the one before it in place.
    pub fn next(&mut self, left: &mut [f32; QUANTUM], right: &mut [f32; QUANTUM]) {
        let mut peak = 0.0_f32;
        for frame in left.iter_mut().chain(right.iter_mut()) {
            // What is no number must not reach a loudspeaker.
            if !frame.is_finite() {
                *frame = 0.0;
            }
            peak = peak.max(frame.abs());
        }
        let allowed = if peak > CEILING { CEILING / peak } else { 1.0 };
        let edge = (self.edge + self.recover).min(self.allowed).min(allowed);
        let slope = (edge - self.edge) / QUANTUM as f32;
        let [held_left, held_right] = &mut self.held;
        let frames =
            left.iter_mut().zip(right.iter_mut()).zip(held_left.iter_mut().zip(held_right));
        let mut gain = self.edge;
        for ((left, right), (held_left, held_right)) in frames {
            std::mem::swap(left, held_left);
            std::mem::swap(right, held_right);
            // Rounding may lift a peak by a hair: hold it.
            *left = (*left * gain).clamp(-CEILING, CEILING);
            *right = (*right * gain).clamp(-CEILING, CEILING);
            gain += slope;
        }
        self.allowed = allowed;
        self.edge = edge;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holds_the_ceiling_and_leaves_the_quiet_alone() {
        let mut limiter = Limiter::new(48_000);
        let mut quiet = [0.5; QUANTUM];
        let mut loud = [3.0; QUANTUM];
        limiter.next(&mut quiet, &mut loud);
        assert_eq!(quiet, [0.0; QUANTUM], "one block late");
        for _ in 0..100 {
            let (mut left, mut right) = ([0.5; QUANTUM], [-0.1; QUANTUM]);
            left[13] = 5.0;
            limiter.next(&mut left, &mut right);
            assert!(left.iter().chain(&right).all(|x| x.abs() <= CEILING));
        }
        for _ in 0..1_000 {
            limiter.next(&mut [0.25; QUANTUM], &mut [-0.1; QUANTUM]);
        }
        let (mut left, mut right) = ([0.0; QUANTUM], [f32::NAN; QUANTUM]);
        limiter.next(&mut left, &mut right);
        assert_eq!((left, right), ([0.25; QUANTUM], [-0.1; QUANTUM]), "back at full gain");
        limiter.next(&mut left, &mut right);
        assert_eq!(right, [0.0; QUANTUM]);
    }
}
