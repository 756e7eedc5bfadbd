//! Sound of any rate at the one rate that everything is heard at.
//!
//! A windowed sinc, its weights worked out once for each place that a sample can have between two others (Julius O.
//! Smith, "Digital Audio Resampling", CCRMA). Every step is plain arithmetic, rounded alike on every machine.

use super::dot::dot;

/// Samples a second at which everything is heard: up to 7.2 kHz, where strings that are picked have all by which
/// strokes are told, and what a phone still keeps.
pub const RATE: u32 = 16_000;

/// How much weaker what is filtered out must be, in decibels: as far as 13 bits reach.
const STOPPED: f64 = 80.0;

/// Passes up to this share of the lower of the two rates, and stops what is as far above half of it: 7.2 and 8.8 kHz.
/// Between them what is above 8 kHz comes back below it, but not below 7.2 kHz.
const PASSED: f64 = 0.45;

/// Places between two samples for which there are weights of their own at most. A rate that would need more (none
/// that is in use does) takes the nearest place, which is good to 70 dB.
const MOST_PLACES: u64 = 4_096;

/// Makes [`RATE`] of another rate, block by block. What is at one time in the sound stays at that time. Before its
/// beginning and after its end it is taken to go on as it is there, so that an offset makes no click.
#[derive(Clone, Debug)]
pub struct Resampler {
    /// Samples in for each `per` samples out.
    step: u64,
    per: u64,
    /// Weights for each place, one row after the other.
    weights: Vec<f32>,
    /// Weights of a row: an even number.
    row: usize,
    /// Samples that came in and are needed yet; the first has half a row before it.
    waiting: Vec<f32>,
    /// The number of the first that waits, counted from half a row before the sound.
    first: u64,
    /// How many came in.
    came: u64,
    /// How many went out.
    went: u64,
}

impl Resampler {
    /// For sound of `rate` samples a second; no rate counts as one.
    pub fn new(rate: u32) -> Self {
        let rate = u64::from(rate.max(1));
        let common = common_divisor(rate, u64::from(RATE));
        let (step, per) = (rate / common, u64::from(RATE) / common);
        if step == per {
            let (weights, row, waiting) = (Vec::new(), 0, Vec::new());
            return Self { step, per, weights, row, waiting, first: 0, came: 0, went: 0 };
        }
        // Of the lower rate, as a share of the rate that comes in.
        let lower = (f64::from(RATE) / rate as f64).min(1.0);
        // Kaiser's rule for the length (Oppenheim and Schafer, "Discrete-Time Signal Processing", 7.5).
        let half = (STOPPED - 7.95) / (14.36 * (1.0 - 2.0 * PASSED) * lower) / 2.0;
        let half = half.ceil() as usize;
        let places = per.min(MOST_PLACES);
        let weights =
            (0..places).flat_map(|place| weights(half, lower, place as f64 / places as f64));
        let weights: Vec<f32> = weights.collect();
        let waiting = vec![0.0; half];
        Self { step, per, weights, row: 2 * half, waiting, first: 0, came: 0, went: 0 }
    }

    /// Takes samples, and adds to `out` what can be known by now.
    pub fn push(&mut self, samples: &[f32], out: &mut Vec<f32>) {
        if self.row == 0 {
            return out.extend(samples);
        }
        if let (0, Some(&before)) = (self.came, samples.first()) {
            self.waiting.fill(before);
        }
        self.came += samples.len() as u64;
        self.waiting.extend(samples);
        self.give(u64::MAX, out);
    }

    /// The rest of the sound, which has ended: as many samples in all as its length asks for.
    pub fn finish(mut self, out: &mut Vec<f32>) {
        if self.row > 0 {
            let whole = (self.came * self.per).div_ceil(self.step);
            let after = self.waiting.last().copied().unwrap_or(0.0);
            self.waiting.resize(self.waiting.len() + self.row, after);
            self.give(whole, out);
        }
    }

    fn give(&mut self, whole: u64, out: &mut Vec<f32>) {
        let places = self.weights.len() as u64 / self.row as u64;
        while self.went < whole {
            let (at, part) = (self.went * self.step / self.per, self.went * self.step % self.per);
            // The nearest place: another sample's first one, where it is nearer than the last of this.
            let place = (part * places + self.per / 2) / self.per;
            let (at, place) = (at + place / places, place % places);
            let from = (at + 1 - self.first) as usize;
            let row = place as usize * self.row;
            let samples = self.waiting.get(from..from + self.row);
            let (Some(samples), Some(weights)) = (samples, self.weights.get(row..row + self.row))
            else {
                break;
            };
            out.push(dot(samples, weights));
            self.went += 1;
        }
        let done = (self.went * self.step / self.per - self.first) as usize;
        self.waiting.drain(..done.min(self.waiting.len()));
        self.first += done as u64;
    }
}

/// A whole sound of `rate` samples a second at [`RATE`].
pub fn resampled(samples: &[f32], rate: u32) -> Vec<f32> {
    let mut out = Vec::new();
    let mut resampler = Resampler::new(rate);
    resampler.push(samples, &mut out);
    resampler.finish(&mut out);
    out
}

fn common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { common_divisor(b, a % b) }
}

/// The weights of `half` samples before a place and `half` after it, which is `part` of the way from the last before
/// it to the first after it. They add up to 1, so that a constant stays what it is.
fn weights(half: usize, lower: f64, part: f64) -> impl Iterator<Item = f32> {
    let away = move |n: usize| n as f64 - (half as f64 - 1.0) - part;
    let weight = move |n: usize| sinc(away(n) * lower) * kaiser(away(n) / half as f64);
    let sum: f64 = (0..2 * half).map(weight).sum();
    (0..2 * half).map(move |n| (weight(n) / sum) as f32)
}

/// sin(pi x) / (pi x), by its series: the system's own sine differs from machine to machine in its last digit.
fn sinc(x: f64) -> f64 {
    // To within half a turn of 0, where a dozen terms have all digits.
    let turns = x.round();
    let angle = (x - turns) * std::f64::consts::PI;
    let sign = if turns % 2.0 == 0.0 { 1.0 } else { -1.0 };
    let (mut sine, mut term) = (0.0, angle);
    for n in 1..=12 {
        sine += term;
        term *= -angle * angle / f64::from(2 * n * (2 * n + 1));
    }
    if x.abs() < 1e-9 { 1.0 } else { sign * sine / (std::f64::consts::PI * x) }
}

/// Kaiser's window from -1 to 1, as narrow as [`STOPPED`] asks (Oppenheim and Schafer, as above); 0 beyond.
fn kaiser(x: f64) -> f64 {
    let beta = 0.1102 * (STOPPED - 8.7);
    if x.abs() > 1.0 { 0.0 } else { bessel(beta * (1.0 - x * x).sqrt()) }
}

/// The modified Bessel function of the first kind and order 0, by its series.
fn bessel(x: f64) -> f64 {
    let (mut sum, mut term) = (1.0, 1.0);
    for n in 1..=32 {
        term *= (x / 2.0 / f64::from(n)) * (x / 2.0 / f64::from(n));
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATES: [u32; 8] = [8_000, 11_025, 22_050, 32_000, 44_100, 48_000, 96_000, 192_000];

    fn tone(hertz: f64, rate: u32, seconds: f64) -> Vec<f32> {
        let turn = std::f64::consts::TAU * hertz / f64::from(rate);
        (0..(f64::from(rate) * seconds) as u32)
            .map(|n| (turn * f64::from(n)).sin() as f32)
            .collect()
    }

    /// The level of a tone of full scale where it is steady, in decibels.
    fn level(hertz: f64, rate: u32) -> f64 {
        let out = resampled(&tone(hertz, rate, 0.5), rate);
        let steady = &out[2_000..6_000];
        let power = steady.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / steady.len() as f64;
        10.0 * (2.0 * power).max(1e-20).log10()
    }

    #[test]
    fn an_impulse_stays_at_its_time() {
        for rate in RATES {
            for at in [0.1, 0.25013, 0.4] {
                let at = (at * f64::from(rate)).round();
                let mut sound = vec![0.0; rate as usize / 2];
                sound[at as usize] = 1.0;
                let out = resampled(&sound, rate);
                // By its centre: what lies between samples counts too.
                let sum: f64 = out.iter().map(|x| f64::from(*x)).sum();
                let moment: f64 =
                    out.iter().enumerate().map(|(n, x)| n as f64 * f64::from(*x)).sum();
                let off = moment / sum / f64::from(RATE) - at / f64::from(rate);
                assert!(off.abs() < 1e-4, "{rate}: {} ms", off * 1e3);
                let loudest = (0..out.len()).max_by(|a, b| out[*a].abs().total_cmp(&out[*b].abs()));
                let off = loudest.unwrap() as f64 / f64::from(RATE) - at / f64::from(rate);
                assert!(off.abs() <= 0.5 / f64::from(RATE) + 1e-9, "{rate}: {} ms", off * 1e3);
            }
        }
    }

    #[test]
    fn passes_what_is_heard_and_stops_what_would_come_back() {
        for rate in RATES {
            let lower = f64::from(rate.min(RATE));
            for share in [0.01, 0.1, 0.3, 0.4, 0.45] {
                let level = level(share * lower, rate);
                assert!(level.abs() < 0.02, "{rate}: {level} dB at {share}");
            }
            for hertz in [8_800.0, 9_500.0, 12_000.0, 16_000.0, 20_000.0, 40_000.0, 90_000.0] {
                if hertz < f64::from(rate) / 2.0 {
                    let level = level(hertz, rate);
                    assert!(level < -76.0, "{rate}: {level} dB at {hertz}");
                }
            }
        }
    }

    #[test]
    fn a_lower_rate_gets_no_images() {
        for (rate, hertz) in [(8_000, 3_500.0), (11_025, 4_900.0)] {
            let out = resampled(&tone(hertz, rate, 0.5), rate);
            // What is left once the tone itself is taken away.
            let wave = tone(hertz, RATE, 0.5);
            let left = (2_000..6_000).map(|n| (out[n] - wave[n]).abs()).fold(0.0, f32::max);
            assert!(left < 10.0_f32.powf(-70.0 / 20.0), "{rate}: {left}");
        }
    }

    #[test]
    fn an_odd_rate_is_as_clean() {
        for rate in [44_099, 47_952, 12_345] {
            let out = resampled(&tone(3_000.0, rate, 0.5), rate);
            let wave = tone(3_000.0, RATE, 0.5);
            let left = (2_000..6_000).map(|n| (out[n] - wave[n]).abs()).fold(0.0, f32::max);
            assert!(left < 10.0_f32.powf(-70.0 / 20.0), "{rate}: {left}");
        }
    }

    #[test]
    fn blocks_make_no_difference() {
        let sound = tone(1_234.0, 44_100, 0.3);
        let whole = resampled(&sound, 44_100);
        assert_eq!(whole.len(), 4_800);
        for size in [1, 7, 441, 1_152, 13_000] {
            let (mut resampler, mut out) = (Resampler::new(44_100), Vec::new());
            for block in sound.chunks(size) {
                resampler.push(block, &mut out);
                resampler.push(&[], &mut out);
                assert!(resampler.waiting.len() < size + 600);
            }
            resampler.finish(&mut out);
            assert_eq!(out, whole, "{size}");
        }
    }

    #[test]
    fn what_has_the_rate_is_left_as_it_is() {
        let sound = tone(7_900.0, RATE, 0.1);
        assert_eq!(resampled(&sound, RATE), sound);
    }

    #[test]
    fn a_constant_stays_one_to_its_ends() {
        for rate in RATES {
            let out = resampled(&vec![0.4; rate as usize / 20], rate);
            assert!(out.iter().all(|x| (x - 0.4).abs() < 1e-6), "{rate}");
        }
    }

    #[test]
    fn short_sounds_and_absurd_rates_are_no_trouble() {
        for rate in [0, 1, 3, 7_999, 191_999, 3_000_000] {
            for length in [0, 1, 2, 50] {
                let out = resampled(&vec![0.5; length], rate);
                let asked = (length as u64 * u64::from(RATE)).div_ceil(u64::from(rate.max(1)));
                assert_eq!(out.len() as u64, asked, "{rate} {length}");
                assert!(out.iter().all(|x| x.is_finite()));
            }
        }
    }

    /// The very bits of a result: arithmetic alone, no function of the system's.
    #[test]
    fn the_result_is_the_same_on_every_machine() {
        let sound: Vec<f32> =
            (0..4_410).map(|n| (n * 7_919 % 1_009) as f32 / 1_009.0 - 0.5).collect();
        let sum = resampled(&sound, 44_100)
            .iter()
            .fold(0_u64, |sum, x| sum.rotate_left(5) ^ u64::from(x.to_bits()));
        assert_eq!(sum, 7_931_718_851_501_506_923);
    }
}
