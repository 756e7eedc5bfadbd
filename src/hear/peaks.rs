use super::features::FRAMES;

/// Frames on either side in which a peak must be the highest: strokes come no closer than 40 ms, not even in a tremolo.
const HIGHEST: usize = 3;

/// The seconds at which a likelihood peaks that is told `FRAMES` times a second: where it is at least `least` and the
/// highest around. Between frames it is at the top of the parabola through the peak and its neighbours.
pub(super) fn peaks(told: &[f32], least: f32) -> Vec<f64> {
    let mut found: Vec<f64> = Vec::new();
    let mut last: Option<usize> = None;
    for (at, &height) in told.iter().enumerate() {
        let from = at.saturating_sub(HIGHEST);
        let around = told.get(from..told.len().min(at + HIGHEST + 1)).unwrap_or_default();
        // Of equal heights the first.
        let again = last.is_some_and(|last| at - last <= HIGHEST);
        if height < least || again || around.iter().any(|other| *other > height) {
            continue;
        }
        last = Some(at);
        let beside = |at: Option<usize>| at.and_then(|at| told.get(at)).copied().unwrap_or(0.0);
        let (left, right) = (beside(at.checked_sub(1)), beside(at.checked_add(1)));
        let bow = left - 2.0 * height + right;
        let shift = if bow < -1e-6 { (0.5 * (left - right) / bow).clamp(-0.5, 0.5) } else { 0.0 };
        found.push((at as f64 + f64::from(shift)) / f64::from(FRAMES));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn peaks_are_high_and_the_highest_around() {
        let mut told = vec![0.01_f32; 400];
        for (at, height) in [(100, 0.9), (102, 0.8), (130, 0.7), (200, 0.3)] {
            told[at] = height;
        }
        assert_eq!(peaks(&told, 0.5), [1.0, 1.3]);
        assert_eq!(peaks(&[0.9; 3], 0.5).len(), 1, "of equal heights the first");
        assert_eq!(peaks(&[], 0.5), [] as [f64; 0]);
    }

    #[test]
    fn between_frames_is_told_between_frames() {
        let mut told = vec![0.0_f32; 50];
        (told[20], told[21]) = (0.75, 0.75);
        assert!((peaks(&told, 0.5)[0] - 0.205).abs() < 1e-6);
    }
}
