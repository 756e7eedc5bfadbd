/// Samples so large count as clipped: the last step of 8 bits, and far above what is left of a full scale
/// by rounding.
const FULL: f32 = 0.995;

/// So many samples at full scale in a row are a clipped top; a single one may be a peak that just fits.
const CLIPPED_RUN: usize = 3;

/// A recording of the player alone, its channels made one.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// From −1 to 1.
    pub samples: Vec<f32>,
    /// Samples a second.
    pub rate: u32,
    /// The share of the samples that stand at the end of the scale, 0 to 1: those that were cut off.
    pub clipped: f64,
}

impl Sound {
    /// From samples frame by frame, each with one of every channel. No channels count as one.
    ///
    /// What is heard is the channels' mean, or the loudest alone where they cancel each other out (a
    /// microphone wired the wrong way round).
    /// A constant offset, which cheap converters add, is taken away: it is no sound.
    pub fn new(samples: Vec<f32>, channels: usize, rate: u32) -> Self {
        let clipped = clipped_share(&samples, channels.max(1));
        let mut samples = samples;
        for channel in 0..channels.max(1) {
            center(&mut samples, channel, channels.max(1));
        }
        if channels <= 1 {
            return Self { samples, rate, clipped };
        }
        let mean = |frame: &[f32]| frame.iter().sum::<f32>() / channels as f32;
        let mixed: Vec<f32> = samples.chunks_exact(channels).map(mean).collect();
        let energy = |channel: usize| -> f64 {
            samples.iter().skip(channel).step_by(channels).map(|s| f64::from(*s).powi(2)).sum()
        };
        let loudest = (0..channels).map(|channel| (energy(channel), channel));
        let Some((most, loudest)) = loudest.max_by(|a, b| a.0.total_cmp(&b.0)) else {
            return Self { samples: mixed, rate, clipped };
        };
        // One sounding channel among n has a mean of a n-th; what is well below that has cancelled.
        let left: f64 = mixed.iter().map(|sample| f64::from(*sample).powi(2)).sum();
        let samples = if left < 0.5 * most / (channels * channels) as f64 {
            samples.iter().skip(loudest).step_by(channels).copied().collect()
        } else {
            mixed
        };
        Self { samples, rate, clipped }
    }
}

/// Takes its mean away from a channel.
fn center(samples: &mut [f32], channel: usize, channels: usize) {
    let own = || samples.iter().skip(channel).step_by(channels);
    let mean = own().map(|sample| f64::from(*sample)).sum::<f64>() / own().count().max(1) as f64;
    for sample in samples.iter_mut().skip(channel).step_by(channels) {
        *sample = (f64::from(*sample) - mean) as f32;
    }
}

/// The share of samples that belong to a run at full scale within their channel.
fn clipped_share(samples: &[f32], channels: usize) -> f64 {
    let mut clipped = 0;
    for channel in 0..channels {
        let mut run = 0;
        for sample in samples.iter().skip(channel).step_by(channels) {
            if sample.abs() >= FULL {
                run += 1;
            } else {
                clipped += if run >= CLIPPED_RUN { run } else { 0 };
                run = 0;
            }
        }
        clipped += if run >= CLIPPED_RUN { run } else { 0 };
    }
    clipped as f64 / samples.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_that_cancel_are_not_mixed() {
        // Whole periods: no offset of its own.
        let wave = |n: usize| (n as f32 * std::f32::consts::TAU / 50.0).sin() * 0.5;
        let stereo = |other: f32| (0..1_000).flat_map(|n| [wave(n), other * wave(n)]).collect();
        let same = Sound::new(stereo(1.0), 2, 8_000);
        assert!((same.samples[7] - wave(7)).abs() < 1e-6);
        let one = Sound::new(stereo(0.0), 2, 8_000);
        assert!((one.samples[7] - wave(7) / 2.0).abs() < 1e-6);
        let against = Sound::new(stereo(-1.0), 2, 8_000);
        assert_eq!(against.samples.len(), 1_000);
        assert!((against.samples[7].abs() - wave(7).abs()).abs() < 1e-6);
    }

    #[test]
    fn a_constant_offset_is_no_sound() {
        let wave = |n: usize| (n as f32 * 0.1).sin() * 0.5;
        let offset = [0.2, -0.3];
        let stereo = (0..10_000).flat_map(|n| offset.map(|by| wave(n) + by)).collect();
        let heard = Sound::new(stereo, 2, 8_000);
        let off = (0..10_000).map(|n| (heard.samples[n] - wave(n)).abs()).fold(0.0, f32::max);
        assert!(off < 0.01, "{off}");
    }

    #[test]
    fn tops_cut_off_are_clipped_and_a_single_peak_is_not() {
        let tone = |gain: f32| -> Vec<f32> {
            (0..10_000).map(|n| ((n as f32 * 0.05).sin() * gain).clamp(-1.0, 1.0)).collect()
        };
        assert_eq!(Sound::new(tone(0.9), 1, 8_000).clipped, 0.0);
        let loud = Sound::new(tone(2.0), 1, 8_000).clipped;
        // |sin| is above a half for two thirds of the time.
        assert!((loud - 0.667).abs() < 0.02, "{loud}");
        assert_eq!(Sound::new(vec![0.0, 1.0, 0.0], 1, 8_000).clipped, 0.0);
    }
}
