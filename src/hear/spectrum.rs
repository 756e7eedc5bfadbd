use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

/// Magnitudes of a windowed piece of sound. A steady sine wave of amplitude 1 has a peak of 1.
pub(super) struct Spectrum {
    transform: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    magnitudes: Vec<f32>,
    step: f64,
}

impl Spectrum {
    /// For pieces of `window` samples at `rate`, with raised-cosine (Hann) weights, transformed as if
    /// followed by silence up to at least `size` samples, which sets how finely the magnitudes lie.
    pub fn new(window: usize, size: usize, rate: f64) -> Self {
        let window = window.max(2);
        let size = round_size(size.max(window));
        let transform = RealFftPlanner::new().plan_fft_forward(size);
        let shape = |n: usize| {
            let turn = std::f64::consts::TAU * (n as f64 + 0.5) / window as f64;
            0.5 - 0.5 * turn.cos()
        };
        let sum: f64 = (0..window).map(shape).sum();
        Self {
            window: (0..window).map(|n| (shape(n) * 2.0 / sum) as f32).collect(),
            input: transform.make_input_vec(),
            output: transform.make_output_vec(),
            scratch: transform.make_scratch_vec(),
            magnitudes: vec![0.0; size / 2 + 1],
            transform,
            step: rate / size as f64,
        }
    }

    /// Hertz from one magnitude to the next.
    pub fn step(&self) -> f64 {
        self.step
    }

    /// How many magnitudes there are.
    pub fn lines(&self) -> usize {
        self.magnitudes.len()
    }

    /// The magnitudes of the samples from `from` on; what lies outside the sound is silence.
    pub fn at(&mut self, sound: &[f32], from: isize) -> &[f32] {
        self.input.fill(0.0);
        let skip = usize::try_from(-from).unwrap_or(0);
        let from = usize::try_from(from).unwrap_or(0);
        let sound = sound.get(from..).unwrap_or_default();
        let places = self.input.iter_mut().zip(&self.window).skip(skip);
        for ((place, weight), sample) in places.zip(sound) {
            *place = sample * weight;
        }
        // Only fails for slices of other lengths than its own.
        let done = self.transform.process_with_scratch(
            &mut self.input,
            &mut self.output,
            &mut self.scratch,
        );
        if done.is_ok() {
            for (magnitude, bin) in self.magnitudes.iter_mut().zip(&self.output) {
                *magnitude = bin.norm_sqr().sqrt();
            }
        }
        &self.magnitudes
    }
}

/// The next size that transforms fast: a power of two, or three times one.
fn round_size(size: usize) -> usize {
    let two = size.next_power_of_two();
    let three = two / 4 * 3;
    if three >= size && three.is_multiple_of(2) { three } else { two }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_has_its_amplitude_at_its_hertz() {
        for rate in [8_000, 44_100, 96_000] {
            let mut spectrum =
                Spectrum::new(rate as usize / 10, rate as usize / 2, f64::from(rate));
            let sound: Vec<f32> = (0..rate)
                .map(|n| {
                    (std::f64::consts::TAU * 440.0 * f64::from(n) / f64::from(rate)).sin() as f32
                        * 0.3
                })
                .collect();
            let step = spectrum.step();
            let magnitudes = spectrum.at(&sound, 100);
            let (bin, most) =
                magnitudes.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).unwrap();
            assert!((bin as f64 * step - 440.0).abs() < 2.0 * step, "{rate}: {bin}");
            assert!((most - 0.3).abs() < 0.01, "{rate}: {most}");
        }
    }

    #[test]
    fn outside_the_sound_is_silence() {
        let mut spectrum = Spectrum::new(100, 128, 8_000.0);
        let loud = vec![1.0; 50];
        assert!(spectrum.at(&loud, -60).iter().any(|m| *m > 0.01));
        assert!(spectrum.at(&loud, -200).iter().all(|m| *m == 0.0));
        assert!(spectrum.at(&loud, 50).iter().all(|m| *m == 0.0));
    }

    #[test]
    fn sizes_are_even_and_large_enough() {
        for size in 2..5_000 {
            let rounded = round_size(size);
            assert!(
                rounded >= size && rounded.is_multiple_of(2) && rounded <= 2 * size,
                "{size} {rounded}"
            );
        }
    }
}
