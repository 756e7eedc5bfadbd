use crate::time::Nanos;

/// Nanoseconds in a second.
const SECOND: f64 = 1e9;

/// How far off a device's word for when it will be heard is at first taken to be: 3 ms, which a sound
/// server's guess of its own delay is. Then what it is seen to be counts, within these bounds.
const NOISE: f64 = 3e6;
const NOISES: std::ops::RangeInclusive<f64> = 0.1e6..=5e6;

/// Callbacks over which the noise is averaged.
const NOISE_OVER: f64 = 64.0;

/// How far off a sound device's rate may be from its name: 150 parts in a million.
const SKEW: f64 = 150e-6 * SECOND;

/// How the delay wanders by itself: 85 µs in a second. With a callback each 20 ms that are 3 ms off,
/// the last five seconds are averaged.
const WANDER: f64 = 85e3;

/// How the skew wanders, with the warmth of a crystal: one part in a million in a minute.
const WARMTH: f64 = 1e-6 * SECOND / 7.75;

/// Off by more than four times the noise and this, 6 ms, it is no noise: if it stays so for
/// [`JUMPED`] callbacks, the device has lost or skipped time.
const OUTLIER: f64 = 6e6;
const JUMPED: u32 = 3;

/// When each frame of a sound device is heard, on our clock.
///
/// At each callback the device says when its first frame will be heard. That wavers by milliseconds
/// while the device itself plays as evenly as its crystal, so it is filtered: a Kalman filter (R. E.
/// Kalman, "A New Approach to Linear Filtering and Prediction Problems", 1960) whose two states are
/// the time of a frame and the skew of the device's rate.
#[derive(Clone, Debug)]
pub(super) struct DeviceClock {
    /// Nanoseconds a frame by the nominal rate.
    frame_nanos: f64,
    /// The frame of the last callback, when it is heard, and the skew in nanoseconds a second. A
    /// day in nanoseconds is exact to 0.02 ns in these numbers.
    last: Option<(u64, f64)>,
    skew: f64,
    /// The uncertainty of time and skew: variances and their covariance.
    time_variance: f64,
    covariance: f64,
    skew_variance: f64,
    noise: f64,
    outliers: u32,
}

impl DeviceClock {
    /// For a device of that many frames a second.
    pub fn new(rate: u32) -> Self {
        Self {
            frame_nanos: SECOND / f64::from(rate.max(1)),
            last: None,
            skew: 0.0,
            time_variance: 0.0,
            covariance: 0.0,
            skew_variance: SKEW * SKEW,
            noise: NOISE,
            outliers: 0,
        }
    }

    /// Takes the device's word: `frame` will be heard at `heard`.
    pub fn observe(&mut self, frame: u64, heard: Nanos) {
        let heard = heard.0 as f64;
        let Some((last, time)) = self.last else {
            self.restart(frame, heard);
            return;
        };
        let ahead = frame.saturating_sub(last) as f64 * self.frame_nanos;
        let seconds = ahead / SECOND;
        let time = time + ahead + self.skew * seconds;
        self.time_variance +=
            seconds * (2.0 * self.covariance + seconds * self.skew_variance + WANDER * WANDER);
        self.covariance += seconds * self.skew_variance;
        self.skew_variance += seconds * WARMTH * WARMTH;

        let off = heard - time;
        let expected = self.noise + self.time_variance.sqrt();
        if off.abs() > 4.0 * expected + OUTLIER {
            self.outliers += 1;
            if self.outliers >= JUMPED {
                self.restart(frame, heard);
            } else {
                self.last = Some((frame, time));
            }
            return;
        }
        self.outliers = 0;
        let variance = self.time_variance + self.noise * self.noise;
        // What of a surprise is not the filter's own uncertainty.
        let seen = (off * off - self.time_variance).max(0.0);
        let (time_gain, skew_gain) = (self.time_variance / variance, self.covariance / variance);
        self.last = Some((frame, time + time_gain * off));
        self.skew = (self.skew + skew_gain * off).clamp(-10.0 * SKEW, 10.0 * SKEW);
        self.skew_variance -= skew_gain * self.covariance;
        self.covariance -= time_gain * self.covariance;
        self.time_variance -= time_gain * self.time_variance;
        let noise = self.noise * self.noise;
        let noise = (noise + (seen - noise) / NOISE_OVER).sqrt();
        self.noise = noise.clamp(*NOISES.start(), *NOISES.end());
    }

    /// The device has lost time, or is another one: its next word counts alone.
    pub const fn unsettle(&mut self) {
        self.last = None;
    }

    fn restart(&mut self, frame: u64, heard: f64) {
        self.last = Some((frame, heard));
        self.noise = self.noise.max(NOISE);
        self.time_variance = self.noise * self.noise;
        self.covariance = 0.0;
        self.outliers = 0;
    }

    /// When a frame is heard.
    pub fn heard(&self, frame: u64) -> Nanos {
        let Some((last, time)) = self.last else { return Nanos(0) };
        let from_last = i128::from(frame) - i128::from(last);
        let ahead = from_last as f64 * self.frame_nanos;
        // Rounded to whole nanoseconds, which is what it means.
        Nanos((time + ahead + self.skew * ahead / SECOND) as i64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PERIOD: u64 = 960;
    const NANOS: i64 = 20_000_000;

    /// Hears a device of even time out for so many callbacks, from frame 0 at 0 on.
    fn heard_out(callbacks: i64, mut wavers: impl FnMut(i64) -> i64) -> DeviceClock {
        let mut clock = DeviceClock::new(48_000);
        for n in 0..callbacks {
            clock.observe(PERIOD * n as u64, Nanos(NANOS * n + wavers(n)));
        }
        clock
    }

    #[test]
    fn sees_through_what_wavers() {
        // Up and down by 5 ms, in an order without a pattern.
        let clock = heard_out(500, |n| (n * 7_919 % 101 - 50) * 100_000);
        for n in [490, 500, 510] {
            let off = clock.heard(PERIOD * n).0 - NANOS * n as i64;
            assert!(off.abs() < 500_000, "{off}");
        }
        // Between two callbacks time runs evenly.
        let step = clock.heard(PERIOD * 500 + 48).0 - clock.heard(PERIOD * 500).0;
        assert!((step - 1_000_000).abs() < 1_000, "{step}");
    }

    #[test]
    fn one_wrong_word_is_not_believed_but_three_are() {
        let at = |clock: &DeviceClock, n: i64| clock.heard(PERIOD * n as u64).0 - NANOS * n;
        let mut clock = heard_out(100, |_| 0);
        for n in 100..102 {
            clock.observe(PERIOD * n, Nanos(NANOS * n as i64 + 60_000_000));
        }
        assert!(at(&clock, 102).abs() < 50_000, "{}", at(&clock, 102));
        clock.observe(PERIOD * 102, Nanos(NANOS * 102 + 60_000_000));
        assert!((at(&clock, 103) - 60_000_000).abs() < 50_000);
        // Told of it, it believes at once.
        clock.unsettle();
        clock.observe(PERIOD * 103, Nanos(NANOS * 103));
        assert!(at(&clock, 104).abs() < 50_000);
    }
}
