use super::resample::{RATE, Resampler};
use crate::take::{Source, Take};
use crate::time::Nanos;

/// Samples so large count as clipped: the last step of 8 bits, and far above what is left of a full scale
/// by rounding.
const FULL: f32 = 0.995;

/// So many samples at full scale in a row are a clipped top; a single one may be a peak that just fits.
const CLIPPED_RUN: u64 = 3;

/// A recording of the player alone: its channels made one, at the rate at which everything is heard.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// From −1 to 1, [`RATE`] a second.
    pub samples: Vec<f32>,
    /// [`RATE`].
    pub rate: u32,
    /// The share of the samples that stand at the end of the scale, 0 to 1: those that were cut off.
    pub clipped: f64,
    /// How far the loudest sample was from the middle, at the rate that it was recorded at.
    pub peak: f32,
}

impl Sound {
    /// From samples frame by frame, each with one of every channel, as [`Mixer`] makes it. No channels count as one.
    pub fn new(samples: Vec<f32>, channels: usize, rate: u32) -> Self {
        let mixed = |alone| {
            let mut mixer = Mixer::new(channels, rate, alone);
            mixer.push(&samples);
            mixer.finish()
        };
        match mixed(None) {
            Ok(sound) => sound,
            // One channel cancels nothing out.
            Err(Cancelled { loudest, sound }) => mixed(Some(loudest)).unwrap_or(sound),
        }
    }

    /// The take that it is where nothing is heard in it: as long, and without a stroke.
    pub fn unheard_take(&self) -> Take {
        let nanos = self.samples.len() as i64 * 1_000_000_000 / i64::from(self.rate.max(1));
        Take { hits: Vec::new(), length: Nanos(nanos), source: Source::Sound }
    }
}

/// Makes a [`Sound`] of a recording that comes in blocks, and keeps no more of it than what is heard.
///
/// What is heard is the channels' mean, or the loudest alone where they cancel each other out (a microphone wired
/// the wrong way round). A constant offset, which cheap converters add, is taken away: it is no sound.
#[derive(Clone, Debug)]
pub struct Mixer {
    channels: Vec<Channel>,
    alone: Option<usize>,
    frames: u64,
    clipped: u64,
    mixed: Channel,
    lowest: f32,
    highest: f32,
    resampler: Resampler,
    /// A block of what is mixed, before it has the rate.
    block: Vec<f32>,
    samples: Vec<f32>,
}

/// The channels of a recording cancel each other out: it has to be mixed once more, of its loudest channel alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Cancelled {
    /// The number of that channel, counted from 0.
    pub loudest: usize,
    /// What is left of all.
    pub sound: Sound,
}

/// What is reckoned of a channel as it goes by.
#[derive(Clone, Copy, Debug, Default)]
struct Channel {
    sum: f64,
    squares: f64,
    /// Samples at full scale in a row by now.
    run: u64,
}

impl Channel {
    fn take(&mut self, sample: f32) {
        let sample = f64::from(sample);
        self.sum += sample;
        self.squares += sample * sample;
    }

    /// The samples that a run at full scale adds to those clipped, once it ends.
    fn run_ended(&mut self) -> u64 {
        let run = std::mem::take(&mut self.run);
        if run >= CLIPPED_RUN { run } else { 0 }
    }

    /// Its energy without its offset.
    fn energy(&self, frames: f64) -> f64 {
        (self.squares - self.sum * self.sum / frames).max(0.0)
    }
}

impl Mixer {
    /// For frames of so many channels, `rate` a second; what is heard is one channel `alone` if that is asked for, by
    /// its number from 0. No channels count as one.
    pub fn new(channels: usize, rate: u32, alone: Option<usize>) -> Self {
        Self {
            channels: vec![Channel::default(); channels.max(1)],
            alone,
            frames: 0,
            clipped: 0,
            mixed: Channel::default(),
            lowest: f32::INFINITY,
            highest: f32::NEG_INFINITY,
            resampler: Resampler::new(rate),
            block: Vec::new(),
            samples: Vec::new(),
        }
    }

    /// Takes whole frames, each with one sample of every channel. What is no number counts as silence.
    pub fn push(&mut self, frames: &[f32]) {
        let count = self.channels.len();
        self.block.clear();
        for frame in frames.chunks_exact(count) {
            let (mut sum, mut own) = (0.0, 0.0);
            for (number, (channel, sample)) in self.channels.iter_mut().zip(frame).enumerate() {
                // Whatever a broken file holds, what is reckoned from it stays a number.
                let sample = if sample.is_finite() { sample.clamp(-64.0, 64.0) } else { 0.0 };
                channel.take(sample);
                if sample.abs() >= FULL {
                    channel.run += 1;
                } else if channel.run > 0 {
                    self.clipped += channel.run_ended();
                }
                sum += sample;
                if self.alone == Some(number) {
                    own = sample;
                }
            }
            let mixed = if self.alone.is_some() { own } else { sum / count as f32 };
            self.mixed.take(mixed);
            self.lowest = self.lowest.min(mixed);
            self.highest = self.highest.max(mixed);
            self.block.push(mixed);
        }
        self.frames += (frames.len() / count) as u64;
        self.resampler.push(&self.block, &mut self.samples);
    }

    /// What is heard of what was taken so far, at [`RATE`], an offset included.
    pub fn so_far(&self) -> &[f32] {
        &self.samples
    }

    /// Frames that were taken so far.
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// The whole sound, once all of it has come.
    ///
    /// # Errors
    /// [`Cancelled`] where the mean is not worth hearing.
    pub fn finish(mut self) -> Result<Sound, Cancelled> {
        self.clipped += self.channels.iter_mut().map(Channel::run_ended).sum::<u64>();
        self.resampler.finish(&mut self.samples);
        let frames = self.frames.max(1) as f64;
        let offset = (self.mixed.sum / frames) as f32;
        let mut samples = self.samples;
        samples.iter_mut().for_each(|sample| *sample -= offset);
        let count = self.channels.len();
        let clipped = self.clipped as f64 / (frames * count as f64);
        let peak = (self.highest - offset).max(offset - self.lowest).max(0.0);
        let sound = Sound { samples, rate: RATE, clipped, peak };
        let energies = self.channels.iter().map(|channel| channel.energy(frames));
        let loudest = energies.enumerate().max_by(|a, b| a.1.total_cmp(&b.1));
        // One sounding channel among n has a mean of a n-th; what is well below that has cancelled.
        match loudest {
            Some((loudest, most))
                if count > 1
                    && self.alone.is_none()
                    && self.mixed.energy(frames) < 0.5 * most / (count * count) as f64 =>
            {
                Err(Cancelled { loudest, sound })
            }
            _ => Ok(sound),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_that_cancel_are_not_mixed() {
        // Whole periods: no offset of its own.
        let wave = |n: usize| (n as f32 * std::f32::consts::TAU / 50.0).sin() * 0.5;
        let stereo = |other: f32| (0..1_000).flat_map(|n| [wave(n), other * wave(n)]).collect();
        let same = Sound::new(stereo(1.0), 2, RATE);
        assert!((same.samples[7] - wave(7)).abs() < 1e-6);
        let one = Sound::new(stereo(0.0), 2, RATE);
        assert!((one.samples[7] - wave(7) / 2.0).abs() < 1e-6);
        let against = Sound::new(stereo(-1.0), 2, RATE);
        assert_eq!(against.samples.len(), 1_000);
        assert!((against.samples[7].abs() - wave(7).abs()).abs() < 1e-6);
    }

    #[test]
    fn a_constant_offset_is_no_sound() {
        let wave = |n: usize| (n as f32 * 0.1).sin() * 0.5;
        let offset = [0.2, -0.3];
        let stereo = (0..10_000).flat_map(|n| offset.map(|by| wave(n) + by)).collect();
        let heard = Sound::new(stereo, 2, RATE);
        let off = (0..10_000).map(|n| (heard.samples[n] - wave(n)).abs()).fold(0.0, f32::max);
        assert!(off < 0.01, "{off}");
    }

    #[test]
    fn tops_cut_off_are_clipped_and_a_single_peak_is_not() {
        let tone = |gain: f32| -> Vec<f32> {
            (0..10_000).map(|n| ((n as f32 * 0.05).sin() * gain).clamp(-1.0, 1.0)).collect()
        };
        assert_eq!(Sound::new(tone(0.9), 1, RATE).clipped, 0.0);
        let loud = Sound::new(tone(2.0), 1, RATE).clipped;
        // |sin| is above a half for two thirds of the time.
        assert!((loud - 0.667).abs() < 0.02, "{loud}");
        assert_eq!(Sound::new(vec![0.0, 1.0, 0.0], 1, RATE).clipped, 0.0);
    }
}
