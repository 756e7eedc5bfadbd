/// Samples that a prediction looks back on, at 44,100 a second.
const ORDER: usize = 32;

/// How the samples of a sound follow from those just before: linear prediction, learnt from a stretch of
/// it by the autocorrelation method (Makhoul, "Linear prediction: a tutorial review", Proc. IEEE 63(4),
/// 1975; from memory).
pub(super) struct Prediction {
    /// The weights of the sample before, the one before that, and so on.
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
            f64::from(later.iter().zip(&shaped).map(|(a, b)| a * b).sum::<f32>())
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
        let past = sound.get(at.saturating_sub(self.weights.len())..at).unwrap_or_default();
        let told: f32 =
            past.iter().rev().zip(&self.weights).map(|(past, weight)| past * weight).sum();
        sample - told
    }
}

/// The weights of the best prediction from the autocorrelation (Levinson and Durbin's recursion).
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
    weights.into_iter().map(|weight| weight as f32).collect()
}
