use rand_core::Rng;
use rand_pcg::Pcg32;

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
}

/// What each process keeps from one eighth note to the next, and the strength of what it adds so
/// that its variance stays one: sqrt(1 − keep²). The constants stand as numbers so that every
/// machine computes the same notes.
const KEEP: [(f64, f64); 3] =
    [(0.606_530_66, 0.795_060_10), (0.939_413_06, 0.342_787_69), (0.992_217_94, 0.124_513_60)];

/// Share of the wandering that each process has: their squares add up to one.
const EACH: f64 = 0.577_350_27;

/// How much of a stroke's deviation is new, beside what is remembered.
const NEW: f64 = 0.35;

/// One standard deviation of the wandering as a share of the furthest that is allowed.
const TYPICAL: f64 = 0.45;

impl Drift {
    /// The wandering of one role (`stream`) for one seed.
    pub(super) fn new(seed: u64, stream: u64) -> Self {
        let mut random = Pcg32::new(seed, stream);
        let memory = [(); 3].map(|()| gauss(&mut random));
        Self { random, memory, eighths: 0 }
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
        let mut random = Pcg32::new(self.eighths as u64 ^ stroke << 48, self.random_stream());
        let remembered: f64 = self.memory.iter().sum::<f64>() * EACH;
        let x = TYPICAL * (remembered + NEW * gauss(&mut random));
        // Bends smoothly towards the bound and never reaches it.
        x / (1.0 + x * x).sqrt()
    }

    /// A number that is this player's own at this moment.
    fn random_stream(&self) -> u64 {
        self.random.clone().next_u64()
    }
}

/// Near enough to a normal deviate: the sum of four even ones (Irwin–Hall), of variance one, and
/// never beyond 3.5.
fn gauss(random: &mut Pcg32) -> f64 {
    let bits = random.next_u64();
    let sum: f64 = (0..4).map(|i| f64::from((bits >> (16 * i)) as u16) / 65_536.0).sum();
    (sum - 2.0) * 1.732_050_81
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(seed: u64, count: i64) -> Vec<f64> {
        let mut drift = Drift::new(seed, 1);
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
    fn a_seed_is_a_performance() {
        assert_eq!(series(5, 100), series(5, 100));
        assert_ne!(series(5, 100), series(6, 100));
    }
}
