use super::flux::FRAMES;

/// Seconds on either side in which a peak must be the highest.
const HIGHEST: f64 = 0.025;

/// Seconds before and after a peak whose flux it is held against.
const AROUND: (f64, f64) = (0.15, 0.10);

/// What a peak must rise above the flux around it: with less, noise is taken for strokes; with more, soft
/// strokes under ringing strings are missed. Found on plucked notes at 4 to 12 a second, clean,
/// in noise, and with a band in the background: from 0.015 to 0.025 little changes.
const RISE: f32 = 0.018;

/// How many times the median around it goes off a peak before it is looked how far it rises.
const TIMES: f32 = 1.1;

/// The frames at which the flux has a peak that stands out from what is around it.
pub(super) fn peaks(flux: &[f32]) -> Vec<usize> {
    let frames = |seconds: f64| (seconds * f64::from(FRAMES)).round() as usize;
    let near = frames(HIGHEST);
    let (before, after) = (frames(AROUND.0), frames(AROUND.1));
    let mut around = Vec::with_capacity(before + after + 1);
    let range = |from: usize, to: usize| flux.get(from..to.min(flux.len())).unwrap_or_default();
    let mut found = Vec::new();
    for (at, &height) in flux.iter().enumerate() {
        // Of equal heights the first.
        if height <= RISE
            || range(at.saturating_sub(near), at).iter().any(|other| *other >= height)
            || range(at + 1, at + 1 + near).iter().any(|other| *other > height)
        {
            continue;
        }
        around.clear();
        around.extend_from_slice(range(at.saturating_sub(before), at + 1 + after));
        let middle = around.len() / 2;
        let (_, median, _) = around.select_nth_unstable_by(middle, f32::total_cmp);
        if height - TIMES * *median > RISE {
            found.push(at);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn peaks_stand_out_or_are_none() {
        let mut flux = vec![0.01_f32; 400];
        for (at, height) in [(100, 0.5), (105, 0.4), (130, 0.3), (200, 0.02)] {
            flux[at] = height;
        }
        assert_eq!(peaks(&flux), [100, 130], "one within 25 ms, and none that hardly rises");
        // The same among flux as high as it.
        assert_eq!(peaks(&vec![0.5; 400]), [] as [usize; 0]);
        assert_eq!(peaks(&[]), [] as [usize; 0]);
    }
}
