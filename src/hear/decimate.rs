use std::f64::consts::PI;

use super::dot::dot;

/// Samples a second that are enough for pitches: partials up to 5 kHz.
const ENOUGH: u32 = 11_025;

/// Crossings of zero on either side of the filter's middle.
const CROSSINGS: usize = 8;

/// The sound at the least rate that its own is a whole multiple of and that is enough for pitches, and that
/// rate. What lies above is filtered out first (a sinc of 16 crossings under a raised cosine).
pub(super) fn decimate(sound: &[f32], rate: u32) -> (Vec<f32>, f64) {
    let factor = (rate / ENOUGH).max(1) as usize;
    let new_rate = f64::from(rate) / factor as f64;
    if factor == 1 {
        return (sound.to_vec(), new_rate);
    }
    let half = CROSSINGS * factor;
    // Falls to half at nine tenths of the new rate's half.
    let weight = |n: usize| {
        let x = (n as f64 - half as f64) / factor as f64 * 0.9;
        let sinc = if x == 0.0 { 1.0 } else { (PI * x).sin() / (PI * x) };
        let turn = PI * (n as f64 - half as f64) / (half as f64 + 1.0);
        sinc * (0.5 + 0.5 * turn.cos())
    };
    let sum: f64 = (0..=2 * half).map(weight).sum();
    let weights: Vec<f32> = (0..=2 * half).map(|n| (weight(n) / sum) as f32).collect();
    let filtered = |middle: usize| -> f32 {
        let from = middle.saturating_sub(half);
        let weights = weights.get(half - (middle - from)..).unwrap_or_default();
        dot(sound.get(from..).unwrap_or_default(), weights)
    };
    ((0..sound.len()).step_by(factor).map(filtered).collect(), new_rate)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level(hertz: f64, rate: u32) -> f64 {
        let turn = std::f64::consts::TAU * hertz / f64::from(rate);
        let sound: Vec<f32> = (0..rate).map(|n| (turn * f64::from(n)).sin() as f32).collect();
        let (less, new_rate) = decimate(&sound, rate);
        assert!((less.len() as f64 - new_rate).abs() < 1.5);
        let middle = &less[less.len() / 4..less.len() * 3 / 4];
        (middle.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / middle.len() as f64 * 2.0)
            .sqrt()
    }

    #[test]
    fn keeps_what_is_below_and_takes_what_is_above() {
        for rate in [44_100, 48_000, 96_000] {
            for (hertz, least, most) in
                [(200.0, 0.98, 1.02), (3_000.0, 0.98, 1.02), (9_000.0, 0.0, 0.01)]
            {
                let level = level(hertz, rate);
                assert!((least..=most).contains(&level), "{rate} {hertz}: {level}");
            }
        }
        assert!(level(1_000.0, 8_000) > 0.99, "as it is");
    }
}
