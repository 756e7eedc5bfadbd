/// Seconds before and after a peak of the flux between which the attack lies.
const REACH: (f64, f64) = (0.022, 0.012);

/// Seconds that must lie on either side of the attack for there to be two sides to compare.
const SIDE: f64 = 0.002;

/// When a sound began, in samples, near the sample `near`: where the stretch around it falls best into two
/// parts, each as even in loudness as can be.
///
/// For each place the two parts' logarithms of variance, weighted by their lengths, are added; the place
/// of the least sum is the most likely beginning if both parts are noise of one loudness each. It is the
/// pickers' criterion of seismology (Maeda, "A method for reading and checking phase times in
/// autoprocessing system of seismic wave data", Zisin 38, 1985; from memory). What rings from before is
/// taken off first: each sample less what the samples just before predict of it.
pub(super) fn attack(sound: &[f32], rate: u32, near: usize) -> f64 {
    let samples = |seconds: f64| (seconds * f64::from(rate)).round() as usize;
    let from = near.saturating_sub(samples(REACH.0)).max(2);
    let to = (near + samples(REACH.1)).min(sound.len());
    let Some(stretch) = sound.get(from - 2..to) else { return near as f64 };
    let side = samples(SIDE).max(4);
    let mut sums = Vec::with_capacity(stretch.len());
    let mut sum = 0.0_f64;
    sums.push(sum);
    for three in stretch.windows(3) {
        let &[a, b, c] = three else { continue };
        sum += f64::from(c - 2.0 * b + a).powi(2);
        sums.push(sum);
    }
    let count = sums.len() - 1;
    if count < 3 * side {
        return near as f64;
    }
    let floor = sum / count as f64 * 1e-6 + 1e-18;
    let cost = |place: usize| -> f64 {
        let first = sums.get(place).copied().unwrap_or(0.0);
        let (left, right) = (place as f64, (count - place) as f64);
        left * (first / left + floor).ln() + right * ((sum - first) / right + floor).ln()
    };
    let best = (side..count - side).min_by(|a, b| cost(*a).total_cmp(&cost(*b)));
    best.map_or(near as f64, |best| (from + best) as f64)
}
