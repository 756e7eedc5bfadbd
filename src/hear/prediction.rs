use super::dot::dot;

/// Samples that a prediction looks back on, at 44,100 a second.
const ORDER: usize = 32;

/// How the samples of a sound follow from those just before: linear prediction, learnt from a stretch of
/// it by the autocorrelation method (Makhoul, "Linear prediction: a tutorial review", Proc. IEEE 63(4),
/// 1975; from memory).
pub(super) struct Prediction {
    /// The weights of the samples before, that of the last one last.
    weights: Vec<f32>,
}

impl Prediction {
    /// Learns from a stretch of sound.
    pub fn learn(stretch: &[f32], rate: u32) -> Self {
        let order = (ORDER * rate as usize / 44_100).clamp(8, ORDER).min(stretch.len() / 4);
        let length = stretch.len() as f64;
        let shaped: Vec<f32> = stretch
            .iter()
            .enumerate()
            .map(|(n, sample)| {
                let turn = std::f64::consts::TAU * (n as f64 + 0.5) / length;
                sample * (0.5 - 0.5 * turn.cos()) as f32
            })
            .collect();
        let alike = |lag: usize| -> f64 {
            let later = shaped.get(lag..).unwrap_or_default();
            f64::from(dot(later, &shaped))
        };
        let mut correlation: Vec<f64> = (0..=order).map(alike).collect();
        if let Some(first) = correlation.first_mut() {
            *first = *first * (1.0 + 1e-6) + 1e-12;
        }
        Self { weights: levinson(&correlation) }
    }

    /// What of a sample was not to be expected.
    pub fn error(&self, sound: &[f32], at: usize) -> f32 {
        let Some(&sample) = sound.get(at) else { return 0.0 };
        let order = self.weights.len().min(at);
        let past = sound.get(at - order..at).unwrap_or_default();
        let told = dot(past, self.weights.get(self.weights.len() - order..).unwrap_or_default());
        sample - told
    }
}

/// The weights of the best prediction from the autocorrelation (Levinson and Durbin's recursion), that of the
/// last sample last.
fn levinson(correlation: &[f64]) -> Vec<f32> {
    let Some((&first, rest)) = correlation.split_first() else { return Vec::new() };
    let mut weights: Vec<f64> = Vec::with_capacity(rest.len());
    let mut error = first;
    for (order, next) in rest.iter().enumerate() {
        // The weights so far meet the correlations from the latest back.
        let told: f64 =
            weights.iter().zip(rest.iter().take(order).rev()).map(|(weight, c)| weight * c).sum();
        let reflection = (next - told) / error;
        if !reflection.is_finite() || reflection.abs() >= 1.0 {
            break;
        }
        let mirrored: Vec<f64> = weights.iter().rev().copied().collect();
        for (weight, other) in weights.iter_mut().zip(mirrored) {
            *weight -= reflection * other;
        }
        weights.push(reflection);
        error *= 1.0 - reflection * reflection;
    }
    weights.into_iter().rev().map(|weight| weight as f32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_rings_is_expected_and_what_begins_is_not() {
        let rate = 44_100;
        let ring = |n: usize| (n as f32 * 0.031).sin() * 0.3 + (n as f32 * 0.087).sin() * 0.1;
        let sound: Vec<f32> =
            (0..4_000).map(|n| ring(n) + if n == 3_000 { 0.05 } else { 0.0 }).collect();
        let prediction = Prediction::learn(&sound[1_000..2_500], rate);
        assert!(prediction.error(&sound, 2_900).abs() < 0.002);
        assert!(prediction.error(&sound, 3_000) > 0.045);
    }

    #[test]
    fn silence_and_ends_are_no_trouble() {
        let none = Prediction::learn(&[], 44_100);
        assert_eq!(none.error(&[0.5], 0), 0.5);
        assert_eq!(none.error(&[0.5], 1), 0.0);
        let silent = Prediction::learn(&[0.0; 1_000], 44_100);
        assert_eq!(silent.error(&[0.25; 10], 3), 0.25);
    }
}
