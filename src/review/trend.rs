//! The course of a player's beat, and what strokes stray from it.

/// Half of how much of a take is looked at for the beat at one stroke, in seconds: some four bars in all.
const HALF: f64 = 4.0;

/// The fewest strokes for it.
const FEWEST: usize = 8;

/// The beat at one stroke.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Beat {
    /// When it is, as an offset in seconds.
    pub offset: f64,
    /// By how much that grows in a second: negative for a beat that goes faster.
    pub rate: f64,
    /// How much of a stroke's straying is left beside the beat, which it moves along: the variance of the one as a
    /// share of that of the other.
    pub left: f64,
}

/// The beat at each of some points (time, offset), in the order of time: a straight line through the
/// neighbours, of which near ones count most (local regression with tricube weights: Cleveland 1979, "Robust
/// locally weighted regression and smoothing scatterplots", J. Am. Stat. Assoc. 74, from memory).
pub(super) fn trend(points: &[(f64, f64)]) -> Vec<Beat> {
    let mut first = 0;
    let mut end = 0;
    points
        .iter()
        .enumerate()
        .map(|(index, &(time, _))| {
            while points.get(first).is_some_and(|point| point.0 < time - HALF) {
                first += 1;
            }
            while points.get(end).is_some_and(|point| point.0 <= time + HALF) {
                end += 1;
            }
            let (mut from, mut to) = (first, end);
            while to - from < FEWEST.min(points.len()) {
                from = from.saturating_sub(1);
                to = (to + 1).min(points.len());
            }
            // Strokes that were too few nearby lie further off.
            let reach = points
                .get(from..to)
                .unwrap_or_default()
                .iter()
                .map(|point| (point.0 - time).abs())
                .fold(HALF, f64::max)
                * 1.01;
            line(points.get(from..to).unwrap_or_default(), time, reach, index - from)
        })
        .collect()
}

fn line(points: &[(f64, f64)], time: f64, reach: f64, own: usize) -> Beat {
    let weight = |at: f64| (1.0 - ((at - time).abs() / reach).powi(3)).max(0.0).powi(3);
    let base = points.get(own).map_or(0.0, |point| point.1);
    let mut sums = [0.0; 5];
    for &(at, offset) in points {
        let (w, x, y) = (weight(at), at - time, offset - base);
        for (sum, term) in sums.iter_mut().zip([w, w * x, w * x * x, w * y, w * x * y]) {
            *sum += term;
        }
    }
    let [w, wx, wxx, wy, wxy] = sums;
    let spread = w * wxx - wx * wx;
    // All at one time: no line, a mean.
    if spread <= 1e-9 {
        let offset = if w > 0.0 { base + wy / w } else { base };
        return Beat { offset, rate: 0.0, left: 1.0 };
    }
    let rate = (w * wxy - wx * wy) / spread;
    let offset = base + (wxx * wy - wx * wxy) / spread;
    // What each stroke contributes to the beat.
    let share = |at: f64| weight(at) * (wxx - (at - time) * wx) / spread;
    let squares: f64 = points.iter().map(|point| share(point.0).powi(2)).sum();
    Beat { offset, rate, left: (1.0 - 2.0 * share(time) + squares).clamp(0.0, 1.0) }
}

/// The middle one of some numbers, 0 of none.
pub(super) fn median(of: &[f64]) -> f64 {
    let mut sorted = of.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let half = sorted.len() / 2;
    let at = |index: usize| sorted.get(index).copied().unwrap_or(0.0);
    if sorted.len() % 2 == 1 { at(half) } else { (at(half) + at(half.saturating_sub(1))) / 2.0 }
}

/// The mean, 0 of none.
pub(super) fn mean(of: &[f64]) -> f64 {
    of.iter().sum::<f64>() / of.len().max(1) as f64
}

/// The standard deviation about 0, without the few that lie far off: strokes that were misheard or meant for
/// another place. 0 of none.
pub(super) fn spread(of: &[f64]) -> f64 {
    /// A normal deviate's median distance from its mean, as a share of its standard deviation.
    const MEDIAN: f64 = 0.6745;
    let off: Vec<f64> = of.iter().map(|value| value.abs()).collect();
    let limit = 3.5 * median(&off) / MEDIAN;
    let kept: Vec<f64> = off.iter().filter(|off| **off <= limit).map(|off| off * off).collect();
    mean(&kept).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_course_is_found_as_it_is() {
        let points: Vec<(f64, f64)> =
            (0..60).map(|n| (f64::from(n) * 0.3, 5.0 - 0.02 * f64::from(n) * 0.3)).collect();
        for (beat, (_, offset)) in trend(&points).iter().zip(&points) {
            assert!((beat.offset - offset).abs() < 1e-9 && (beat.rate + 0.02).abs() < 1e-9);
            assert!((0.5..1.0).contains(&beat.left), "{beat:?}");
        }
    }

    #[test]
    fn few_points_and_none_are_no_trouble() {
        assert_eq!(trend(&[]), []);
        assert_eq!(trend(&[(1.0, 0.25)])[0].offset, 0.25);
        let same = trend(&[(1.0, 0.0), (1.0, 0.5)]);
        assert!((same[0].offset - 0.25).abs() < 1e-12 && same[0].rate == 0.0, "{same:?}");
        assert_eq!((median(&[]), mean(&[]), spread(&[])), (0.0, 0.0, 0.0));
        assert_eq!(median(&[3.0, 1.0, 2.0, 10.0]), 2.5);
    }

    #[test]
    fn what_lies_far_off_does_not_count() {
        let mut off: Vec<f64> = (0..100).map(|n| if n % 2 == 0 { 5.0 } else { -5.0 }).collect();
        off.push(90.0);
        assert!((spread(&off) - 5.0).abs() < 1e-9, "{}", spread(&off));
    }
}
