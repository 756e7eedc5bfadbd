use std::f64::consts::FRAC_1_SQRT_2;

use rand_core::Rng;
use rand_pcg::Pcg32;

use crate::hash::{GAMMA, half_mix};

/// How a player's timing and touch wander: slowly, with memory, and within bounds.
///
/// Human deviations from a beat are correlated over long spans, and listeners prefer that to
/// independent errors (Hennig et al. 2011, PLoS ONE 6(10) e26457). The wandering here is a sum of
/// three first-order processes that forget over about one, eight and sixty-four quarter notes, close
/// to 1/f over that range, and of what is new at every stroke.
///
/// It moves with musical time, not with the notes: a bar left out leaves the rest as it was.
#[derive(Clone, Debug)]
pub(super) struct Drift {
    random: Pcg32,
    memory: [f64; 3],
    eighths: i64,
    mix: Mix,
}

/// What each process keeps from one eighth note to the next, and the strength of what it adds so
/// that its variance stays one: sqrt(1 − keep²). The constants stand as numbers so that every
/// machine computes the same notes.
const KEEP: [(f64, f64); 3] =
    [(0.606_530_66, 0.795_060_10), (0.939_413_06, 0.342_787_69), (0.992_217_94, 0.124_513_60)];

/// What a deviation is made of: how much of it each process remembers, the short first, and how much is new at the
/// stroke. Their squares add up to one, and stand as numbers for the same reason.
#[derive(Clone, Copy, Debug)]
struct Mix {
    remembered: [f64; 3],
    new: f64,
}

/// A player's own timing beside the band's. Most is new, and what lasts is soon put right by ear: so one stroke
/// is like the next in about a third (lag 1 of drummers to a click 0.14 to 0.42 with a spectrum of 1/f^0.8, and of
/// trios' asynchronies: Groove MIDI data, Cambridge Jazz Trio Database).
const PLAYER: Mix =
    Mix { remembered: [0.387_298_33, 0.374_165_74, 0.244_948_97], new: 0.806_225_77 };

/// What all players share: slow, as what nobody can hear to be wrong.
const GROUP: Mix = Mix { remembered: [0.0, FRAC_1_SQRT_2, FRAC_1_SQRT_2], new: 0.0 };

/// A player's touch: most is new, for no two strokes of a hand are alike (drummers' velocities in one place of the
/// bar: lag 1 0.18, Groove MIDI data).
const TOUCH: Mix =
    Mix { remembered: [0.280_423_48, 0.280_423_48, 0.280_423_48], new: 0.874_157_28 };

/// The furthest that a deviation goes, in its own standard deviations.
pub const FURTHEST: f64 = 2.5;

/// What bending towards the furthest takes from the spread, given back: by simulation, for normal deviates.
const BEND: f64 = 1.24;

/// The stream of what the band shares: no role's (`Role::stream`).
const GROUP_STREAM: u64 = 1 << 32;

impl Drift {
    /// How the timing of one role (`stream`) wanders, for one seed.
    pub(super) fn of_time(seed: u64, stream: u64) -> Self {
        Self::new(seed, stream, PLAYER)
    }

    /// How the whole band's does.
    pub(super) fn of_group(seed: u64) -> Self {
        Self::new(seed, GROUP_STREAM, GROUP)
    }

    /// How a role's touch does.
    pub(super) fn of_touch(seed: u64, stream: u64) -> Self {
        Self::new(seed, stream, TOUCH)
    }

    fn new(seed: u64, stream: u64, mix: Mix) -> Self {
        let mut random = Pcg32::new(seed, stream);
        let memory = [(); 3].map(|()| gauss(&mut random));
        Self { random, memory, eighths: 0, mix }
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

    /// The deviation at this place, in standard deviations: always within [`FURTHEST`]. `stroke` tells strokes on
    /// the same eighth apart.
    pub(super) fn value(&self, stroke: u64) -> f64 {
        let remembered: f64 =
            self.memory.iter().zip(self.mix.remembered).map(|(value, share)| value * share).sum();
        let x = BEND * (remembered + self.mix.new * self.new_part(stroke));
        // Bends smoothly towards the bound and never reaches it.
        let part = x / FURTHEST;
        x / (1.0 + part * part).sqrt()
    }

    /// A number of this player, this moment and this `use` alone, for what is drawn anew at every stroke.
    pub(super) fn draw(&self, stroke: u64, usage: u64) -> u64 {
        let own = self.random.clone().next_u64();
        half_mix(
            half_mix(own ^ GAMMA.wrapping_mul(usage + 1)).wrapping_add(stroke.wrapping_mul(GAMMA)),
        )
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
        for (name, mut drift) in [
            ("time", Drift::of_time(7, 1)),
            ("touch", Drift::of_touch(7, 2)),
            ("group", Drift::of_group(7)),
        ] {
            let x: Vec<f64> = (0..100_000)
                .map(|eighth| {
                    drift.advance(eighth);
                    drift.value(0)
                })
                .collect();
            assert!(x.iter().all(|v| v.abs() < FURTHEST), "{name}");
            let mean = x.iter().sum::<f64>() / x.len() as f64;
            let sd = (x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64).sqrt();
            assert!(mean.abs() < 0.1, "{name} {mean}");
            assert!((0.9..1.1).contains(&sd), "{name} {sd}");
        }
    }

    #[test]
    fn neighbours_are_alike_and_far_ones_still_a_little() {
        // Drummers to a click: 0.14 to 0.42 from one stroke of a kind to the next (Groove MIDI data).
        let x = series(3, 50_000);
        let (near, half, far) =
            (autocorrelation(&x, 1), autocorrelation(&x, 4), autocorrelation(&x, 40));
        assert!((0.2..0.45).contains(&near), "{near}");
        assert!((0.1..0.4).contains(&half), "{half}");
        // Hennig et al. 2011: over long spans a little is left.
        assert!(far > 0.0 && far < half, "{far}");
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
