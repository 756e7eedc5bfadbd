use super::QUANTUM;

/// No sample leaves larger than this: -1.5 dBFS, which leaves room for the peaks between samples.
pub const CEILING: f32 = 0.841;

/// Nor does the wave between two samples, as far as it is told: -1.36 dBFS.
const BETWEEN: f32 = 0.855;

/// The wave half way between the third and the fourth of six samples is made of these parts of them: a
/// polynomial through all six (Lagrange).
const HALF_WAY: [f32; 3] = [3.0 / 256.0, -25.0 / 256.0, 150.0 / 256.0];

/// A look-ahead peak limiter for two channels.
///
/// It holds one block back. The gain runs straight from one block's edge to the next, and at an
/// edge it is no more than either neighbour allows, so within a block it is never more than that
/// block allows: the ceiling holds for every sample, without a step in the gain.
#[derive(Clone, Debug)]
pub struct Limiter {
    held: [[f32; QUANTUM]; 2],
    /// The last frames taken of each side.
    last: [[f32; 5]; 2],
    allowed: f32,
    edge: f32,
    recover: f32,
    lifted: bool,
}

impl Limiter {
    /// At full gain, holding a block of silence.
    pub fn new(sample_rate: u32) -> Self {
        // Back to full gain from nothing in 0.4 s: slow enough not to be heard as pumping.
        let recover = QUANTUM as f32 / (0.4 * sample_rate.max(1) as f32);
        Self {
            held: [[0.0; QUANTUM]; 2],
            last: [[0.0; 5]; 2],
            allowed: 1.0,
            edge: 1.0,
            recover,
            lifted: false,
        }
    }

    /// Holds one block back as before, and lets everything through as it is.
    pub const fn lift(&mut self) {
        self.lifted = true;
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
        if self.lifted {
            let [held_left, held_right] = &mut self.held;
            std::mem::swap(left, held_left);
            std::mem::swap(right, held_right);
            return;
        }
        let [last_left, last_right] = &mut self.last;
        let between = highest_between(last_left, left).max(highest_between(last_right, right));
        let peak = peak.max(between * (CEILING / BETWEEN));
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

/// The highest that the wave of a side gets half way between its samples, as far as its frames and the
/// `last` before them tell; the rest is the next block's. Keeps its own last frames.
fn highest_between(last: &mut [f32; 5], block: &[f32; QUANTUM]) -> f32 {
    let mut all = [0.0; QUANTUM + 5];
    let (before, here) = all.split_at_mut(5);
    before.copy_from_slice(last);
    here.copy_from_slice(block);
    let [outer, middle, inner] = HALF_WAY;
    let mut highest = 0.0_f32;
    for frames in all.windows(6) {
        if let &[a, b, c, d, e, f] = frames {
            highest = highest.max((outer * (a + f) + middle * (b + e) + inner * (c + d)).abs());
        }
    }
    last.copy_from_slice(all.last_chunk::<5>().unwrap_or(&[0.0; 5]));
    highest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holds_what_is_between_samples_too() {
        // An eighth of the rate, its peaks half way between samples: 1 / cos(22.5°) higher than they show.
        let mut limiter = Limiter::new(48_000);
        let sine = |n: usize| (std::f32::consts::FRAC_PI_4 * (n as f32 + 0.5)).sin();
        let mut top = 0.0_f32;
        for _ in 0..50 {
            let (mut left, mut right) = ([0.0; QUANTUM], [0.0; QUANTUM]);
            left.iter_mut().zip(0..).for_each(|(frame, n)| *frame = sine(n));
            limiter.next(&mut left, &mut right);
            top = left.iter().fold(top, |top, x| top.max(x.abs()));
        }
        let true_peak = top / std::f32::consts::FRAC_PI_8.cos();
        assert!((0.85..0.891).contains(&true_peak), "below -1 dB, and not by much: {true_peak}");
    }

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
