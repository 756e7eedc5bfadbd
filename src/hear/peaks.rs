use super::flux::FRAMES;

/// Seconds on either side in which a peak must be the highest.
const HIGHEST: f64 = 0.025;

/// Seconds before and after a peak whose flux it is held against.
const AROUND: (f64, f64) = (0.15, 0.10);

/// What a peak must stand out by, beside the median around it.
const DELTA: f32 = 0.10;

/// How many times the median.
const TIMES: f32 = 1.5;

/// The frames at which the flux has a peak that stands out, and its height above what is around it.
pub(super) fn peaks(flux: &[f32]) -> Vec<(usize, f32)> {
    let frames = |seconds: f64| (seconds * f64::from(FRAMES)).round() as usize;
    let near = frames(HIGHEST);
    let (before, after) = (frames(AROUND.0), frames(AROUND.1));
    let mut around = Vec::with_capacity(before + after + 1);
    let range = |at: usize, before: usize, after: usize| {
        let to = (at + after + 1).min(flux.len());
        flux.get(at.saturating_sub(before)..to).unwrap_or_default()
    };
    let mut found = Vec::new();
    for (at, &height) in flux.iter().enumerate() {
        let earlier = range(at, near, 0).split_last().map_or(&[][..], |(_, earlier)| earlier);
        if height <= DELTA
            || earlier.iter().any(|other| *other >= height)
            || range(at, 0, near).iter().any(|other| *other > height)
        {
            continue;
        }
        around.clear();
        around.extend_from_slice(range(at, before, after));
        let middle = around.len() / 2;
        let (_, median, _) = around.select_nth_unstable_by(middle, f32::total_cmp);
        let over = height - TIMES * *median;
        if over > DELTA {
            found.push((at, over));
        }
    }
    found
}
