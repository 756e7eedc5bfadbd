use std::ops::RangeInclusive;

use crate::coverage::BeatPart;
use crate::review::Review;
use crate::time::{Meter, Ticks};

/// Below this distance between two strokes, in milliseconds, the least displacement that listeners notice
/// stays the same (Friberg & Sundberg 1995, "Time discrimination in a monotonic, isochronous sequence",
/// J. Acoust. Soc. Am. 98).
const STEADY_BELOW: f64 = 240.0;
/// That least displacement, in milliseconds (the same).
const LEAST: f64 = 6.0;
/// Above it, the share of the distance (the same).
const SHARE: f64 = 0.025;
/// Distances that the experiment tried, in milliseconds (the same).
const TRIED: RangeInclusive<f64> = 100.0..=1000.0;

/// The least displacement that listeners notice among strokes a step of the grid apart, in milliseconds.
pub(super) fn least_heard(review: &Review) -> f64 {
    let meter = Meter::parse(&review.meter).unwrap_or(Meter::FourFour);
    let beat = match meter {
        Meter::FourFour | Meter::ThreeFour | Meter::TwoFour => 2.0,
        Meter::TwoTwo => 4.0,
        Meter::SixEight => 3.0,
    } * Ticks::EIGHTH.get() as f64;
    let step = BeatPart::grid(meter).get() as f64 / beat * 60_000.0 / review.tempo.max(1.0);
    noticed(step)
}

fn noticed(step: f64) -> f64 {
    let step = if step.is_finite() { step } else { *TRIED.end() };
    let step = step.clamp(*TRIED.start(), *TRIED.end());
    if step < STEADY_BELOW { LEAST } else { SHARE * step }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_milliseconds_and_then_a_fortieth() {
        assert_eq!(noticed(120.0), 6.0);
        assert_eq!(noticed(239.0), 6.0);
        assert!((noticed(400.0) - 10.0).abs() < 1e-9);
        assert_eq!(noticed(f64::INFINITY), 25.0);
        assert_eq!(noticed(f64::NAN), 25.0);
    }
}
