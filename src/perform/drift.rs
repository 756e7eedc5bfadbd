use rand_core::Rng;
use rand_pcg::Pcg32;

use crate::hash::{GAMMA, half_mix};

/// How a player's timing and touch wander: slowly, with memory, and within bounds.
///
/// Human deviations from a beat are correlated over long spans, and listeners prefer that to
/// independent errors (Hennig et al. 2011, PLoS ONE 6(10) e26457). The wandering here is a sum of
/// three first-order processes that forget over about one, eight and sixty-four quarter notes: close
/// to 1/f over that range. A smaller part is new at every stroke.
///
/// It moves with musical time, not with the notes: a bar left out leaves the rest as it was.
#[derive(Clone, Debug)]
pub(super) struct Drift {
    random: Pcg32,
    memory: [f64; 3],
    eighths: i64,
    /// How much of a stroke's deviation is new, beside what is remembered.
    new: f64,
}

/// What each process keeps from one eighth note to the next, and the strength of what it adds so
/// that its variance stays one: sqrt(1 − keep²). The constants stand as numbers so that every
/// machine computes the same notes.
const KEEP: [(f64, f64); 3] =
    [(0.606_530_66, 0.795_060_10), (0.939_413_06, 0.342_787_69), (0.992_217_94, 0.124_513_60)];

/// Share of the wandering that each process has: their squares add up to one.
const EACH: f64 = 0.577_350_27;

/// How much of a stroke's deviation in time is new: little, for a player keeps time.
const NEW_TIME: f64 = 0.35;

/// How much of its deviation in loudness is new: most, for no two strokes of a hand are alike. As much as
/// makes fewer than a fifth of neighbours exactly as loud where `vary` is 4 (common practice, no source).
const NEW_TOUCH: f64 = 1.8;

/// One standard deviation of the wandering as a share of the furthest that is allowed.
const TYPICAL: f64 = 0.45;

impl Drift {
    /// How the timing of one role (`stream`) wanders, for one seed.
    pub(super) fn of_time(seed: u64, stream: u64) -> Self {
        Self::new(seed, stream, NEW_TIME)
    }

    /// How its touch does.
    pub(super) fn of_touch(seed: u64, stream: u64) -> Self {
        Self::new(seed, stream, NEW_TOUCH)
    }

    fn new(seed: u64, stream: u64, new: f64) -> Self {
        let mut random = Pcg32::new(seed, stream);
        let memory = [(); 3].map(|()| gauss(&mut random));
        Self { random, memory, eighths: 0, new }
    }

    /// Moves on to an eighth note, counted from the start. Going back does nothing.
    pub(super) fn advance(&mut self, to_eighth: i64) {
        while self.eighths < to_eighth {
            for (value, (keep, add)) in self.memory.iter_mut().zip(KEEP) {
                *value = *value * keep + add * gauss(&mut self.random);
            }
            self.eighths += 1;
        }
    }

    /// The deviation at this place, as a share of the furthest allowed: always between −1 and 1.
    /// `stroke` tells strokes on the same eighth apart.
    pub(super) fn value(&self, stroke: u64) -> f64 {
        let remembered: f64 = self.memory.iter().sum::<f64>() * EACH;
        let x = TYPICAL * (remembered + self.new * self.new_part(stroke));
        // Bends smoothly towards the bound and never reaches it.
        x / (1.0 + x * x).sqrt()
    }

    /// What is new at this stroke: hangs on the player, the moment and the stroke alone.
    fn new_part(&self, stroke: u64) -> f64 {
        let own = self.random.clone().next_u64();
        let mixed = half_mix(own.wrapping_add(stroke.wrapping_mul(GAMMA)));
        deviate((mixed >> 32) as u32)
    }
}

fn gauss(random: &mut Pcg32) -> f64 {
    deviate(random.next_u32())
}

/// Near enough to a normal deviate: the sum of four even ones (Irwin–Hall), a byte each, of variance
/// one, and never beyond 3.5.
fn deviate(bits: u32) -> f64 {
    /// The mean of the sum of four bytes.
    const MEAN: f64 = 510.0;
    /// One over its standard deviation, sqrt(4 × (256² − 1) / 12).
    const SCALE: f64 = 0.006_765_823;
    let sum: u32 = bits.to_be_bytes().into_iter().map(u32::from).sum();
    (f64::from(sum) - MEAN) * SCALE
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(seed: u64, count: i64) -> Vec<f64> {
        let mut drift = Drift::of_time(seed, 1);
        (0..count)
            .map(|eighth| {
                drift.advance(eighth);
                drift.value(0)
            })
            .collect()
    }

    fn autocorrelation(x: &[f64], lag: usize) -> f64 {
        let mean = x.iter().sum::<f64>() / x.len() as f64;
        let variance: f64 = x.iter().map(|v| (v - mean).powi(2)).sum();
        x.windows(lag + 1).map(|w| (w[0] - mean) * (w[lag] - mean)).sum::<f64>() / variance
    }

    #[test]
    fn it_stays_in_bounds_and_is_centred() {
        let x = series(7, 20_000);
        assert!(x.iter().all(|v| v.abs() < 1.0));
        assert!((x.iter().sum::<f64>() / x.len() as f64).abs() < 0.1);
        let sd = (x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64).sqrt();
        assert!((0.25..0.5).contains(&sd), "{sd}");
    }

    #[test]
    fn neighbours_are_alike_and_far_ones_still_a_little() {
        // Hennig et al. 2011: long-range correlation, positive at lag 1.
        let x = series(3, 50_000);
        let (near, far) = (autocorrelation(&x, 1), autocorrelation(&x, 40));
        assert!(near > 0.5, "{near}");
        assert!(far > 0.1 && far < near, "{far}");
    }

    #[test]
    fn no_two_strokes_are_as_hard() {
        for seed in 1..=5 {
            let mut touch = Drift::of_touch(seed, 1);
            let velocities: Vec<i64> = (0..4000)
                .map(|eighth| {
                    touch.advance(eighth);
                    (4.0 * touch.value(0)).round() as i64
                })
                .collect();
            assert!(velocities.iter().all(|v| v.abs() <= 4));
            let same = velocities.windows(2).filter(|two| two[0] == two[1]).count();
            assert!(same * 5 < velocities.len(), "{same} of {}", velocities.len());
        }
    }

    #[test]
    fn a_seed_is_a_performance() {
        assert_eq!(series(5, 100), series(5, 100));
        assert_ne!(series(5, 100), series(6, 100));
    }
}
