use super::resample::RATE;
use super::spectrum::{Spectrum, hann};

/// Frames a second.
pub(super) const FRAMES: u32 = 100;

/// Samples from one frame to the next.
const HOP: usize = (RATE / FRAMES) as usize;

/// Bands of the long window, and of the short one.
pub(super) const LONG: usize = 84;
pub(super) const SHORT: usize = 24;

/// Magnitudes are multiplied by this over the take's loudness before the logarithm is taken of one more: what is 50 dB
/// below the loud places still counts.
const SCALE: f32 = 300.0;

/// Logarithms are kept in steps of a share of one.
const STEPS: f32 = 32.0;

/// What the net hears of a sound: logarithms of magnitudes in triangular bands, evenly spaced by pitch, for a long window
/// that tells notes and a short one that tells when.
///
/// The weights in `weights.bin` were learnt from exactly these (`tests/outside/ear/features.py`): whoever changes a
/// constant here learns them anew.
pub(super) struct Features {
    long: Window,
    short: Window,
    scale: f32,
}

/// A frame: the bands of the long window, then those of the short one.
pub(super) type Frame = [f32; LONG + SHORT];

impl Features {
    /// For a take whose loud places are as loud as `loud`.
    pub fn new(loud: f32) -> Self {
        Self {
            long: Window::new(1_024, 110.0, 7_000.0, 16.0),
            short: Window::new(256, 200.0, 7_600.0, 5.0),
            scale: scale(loud),
        }
    }

    /// How many frames a sound of so many samples at [`RATE`] has.
    pub fn count(samples: usize) -> usize {
        samples / HOP + 1
    }

    /// The frames from `from`, an even number, to before `to`: frame n stands for the time n / [`FRAMES`] seconds.
    pub fn frames(&mut self, sound: &[f32], from: usize, to: usize) -> Vec<Frame> {
        let mut frames = vec![[0.0; LONG + SHORT]; to.saturating_sub(from)];
        for (n, two) in frames.chunks_mut(2).enumerate() {
            let middle = (from + 2 * n) * HOP;
            let mut here = [[0.0; LONG + SHORT]; 2];
            self.long.two(sound, middle, self.scale, &mut here, 0);
            self.short.two(sound, middle, self.scale, &mut here, LONG);
            two.iter_mut().zip(here).for_each(|(frame, here)| *frame = here);
        }
        frames
    }
}

/// A window and its bands.
struct Window {
    spectrum: Spectrum,
    weights: Vec<f32>,
    bands: Vec<Band>,
}

/// A triangle: its first line, and its weights from there on.
struct Band {
    first: usize,
    weights: Vec<f32>,
}

impl Window {
    /// Of `size` samples, with bands from `low` to `high` hertz, `octave` of them an octave, but never less than a line
    /// apart.
    fn new(size: usize, low: f64, high: f64, octave: f64) -> Self {
        let step = f64::from(RATE) / size as f64;
        let mut middles = vec![low / step];
        let mut last = low / step;
        while last * step < high {
            last = (last * libm::exp2(1.0 / octave)).max(last + 1.0);
            middles.push(last);
        }
        let band = |three: &[f64]| {
            let &[left, middle, right] = three else { return None };
            let first = left.floor() as usize;
            let weight = |line: usize| {
                let line = line as f64;
                let (up, down) =
                    ((line - left) / (middle - left), (right - line) / (right - middle));
                up.min(down).max(0.0) as f32
            };
            let to = (right.ceil() as usize).min(size / 2);
            Some(Band { first, weights: (first..=to).map(weight).collect() })
        };
        let bands = middles.windows(3).filter_map(band).collect();
        Self { spectrum: Spectrum::new(size), weights: hann(size), bands }
    }

    /// The bands of the frame around the sample `middle`, and of that a hop later, into a frame each from `place` on.
    fn two(
        &mut self,
        sound: &[f32],
        middle: usize,
        scale: f32,
        frames: &mut [Frame; 2],
        place: usize,
    ) {
        let from = middle as isize - (self.weights.len() / 2) as isize;
        let weights = &self.weights;
        let lines = self.spectrum.two(sound, [(from, weights), (from + HOP as isize, weights)]);
        for (n, band) in self.bands.iter().enumerate() {
            let lines = lines.get(band.first..).unwrap_or_default();
            let mut sums = [0.0_f32; 2];
            for (line, weight) in lines.iter().zip(&band.weights) {
                sums.iter_mut().zip(line).for_each(|(sum, line)| *sum += line * weight);
            }
            for (frame, sum) in frames.iter_mut().zip(sums) {
                if let Some(into) = frame.get_mut(place + n) {
                    *into = in_steps(sum * scale) / 2.0;
                }
            }
        }
    }
}

/// What magnitudes are multiplied by in a take whose loud places are as loud as `loud`.
pub(super) fn scale(loud: f32) -> f32 {
    SCALE / loud.max(1e-9)
}

/// The logarithm of one more, in steps: a last digit that differs makes no difference.
pub(super) fn in_steps(x: f32) -> f32 {
    (libm::log1pf(x) * STEPS).round_ties_even().clamp(0.0, 255.0) / STEPS
}
