use rustfft::algorithm::Radix4;
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftDirection};

/// Magnitudes of windowed pieces of sound, two at a time. A steady sine wave of amplitude 1 has a peak of 1.
pub(super) struct Spectrum {
    transform: Radix4<f32>,
    buffer: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

/// A piece of sound: the sample that it starts with, and its weights.
pub(super) type Piece<'a> = (isize, &'a [f32]);

impl Spectrum {
    /// Of so many samples, a power of two.
    pub fn new(size: usize) -> Self {
        // By name, not by a planner: one goes by the machine's instructions and rounds by them, and either brings along
        // what it may have to plan, a twelfth of what a page carries.
        let transform = Radix4::new(size, FftDirection::Forward);
        let scratch = vec![Complex::default(); transform.get_inplace_scratch_len()];
        Self { transform, buffer: vec![Complex::default(); size], scratch }
    }

    /// The magnitudes of two pieces, from 0 to half the rate; what lies outside the sound is silence, as is what follows
    /// a piece.
    ///
    /// Both are transformed at once, one as the real, one as the imaginary part, which the lines' symmetry tells apart
    /// again.
    pub fn two(&mut self, sound: &[f32], pieces: [Piece; 2]) -> Vec<[f32; 2]> {
        self.buffer.fill(Complex::default());
        for (which, (from, weights)) in pieces.into_iter().enumerate() {
            let skip = usize::try_from(-from).unwrap_or(0);
            let sound = sound.get(usize::try_from(from).unwrap_or(0)..).unwrap_or_default();
            let places = self.buffer.iter_mut().zip(weights).skip(skip);
            for ((place, weight), sample) in places.zip(sound) {
                let part = if which == 0 { &mut place.re } else { &mut place.im };
                *part = sample * weight;
            }
        }
        self.transform.process_with_scratch(&mut self.buffer, &mut self.scratch);
        let size = self.buffer.len();
        let line = |n: usize| {
            let there = self.buffer.get(n).copied().unwrap_or_default();
            let mirror = self.buffer.get((size - n) % size).copied().unwrap_or_default().conj();
            [there + mirror, there - mirror].map(|twice| 0.5 * twice.norm_sqr().sqrt())
        };
        (0..=size / 2).map(line).collect()
    }
}

/// Raised-cosine (Hann) weights of so many samples, by which a sine of amplitude 1 has a peak of 1.
pub(super) fn hann(length: usize) -> Vec<f32> {
    let weight = |n: usize| {
        let turn = std::f64::consts::TAU * (n as f64 + 0.5) / length as f64;
        (0.5 - 0.5 * libm::cos(turn)) as f32
    };
    let sum: f32 = (0..length).map(weight).sum();
    (0..length).map(|n| weight(n) * (2.0 / sum)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(hertz: f64, level: f64) -> impl Fn(u32) -> f32 {
        move |n| ((std::f64::consts::TAU * hertz * f64::from(n) / 16_000.0).sin() * level) as f32
    }

    #[test]
    fn a_sine_has_its_amplitude_at_its_hertz() {
        let (low, high) = (tone(440.0, 0.3), tone(3_000.0, 0.01));
        let sound: Vec<f32> =
            (0..16_000).map(|n| if n < 8_000 { low(n) } else { high(n) }).collect();
        let mut spectrum = Spectrum::new(4_096);
        let (short, long) = (hann(1_024), hann(2_048));
        let lines = spectrum.two(&sound, [(100, &short), (9_000, &long)]);
        assert_eq!(lines.len(), 2_049);
        for (which, hertz, level) in [(0, 440.0, 0.3), (1, 3_000.0, 0.01)] {
            let (bin, most) = lines
                .iter()
                .map(|line| line[which])
                .enumerate()
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .unwrap();
            assert!((bin as f64 * 16_000.0 / 4_096.0 - hertz).abs() < 4.0, "{hertz}: {bin}");
            assert!((f64::from(most) / level - 1.0).abs() < 0.03, "{hertz}: {most}");
        }
    }

    #[test]
    fn outside_the_sound_is_silence() {
        let mut spectrum = Spectrum::new(128);
        let (loud, weights) = (vec![1.0; 50], hann(100));
        let lines = spectrum.two(&loud, [(-60, &weights), (-200, &weights)]);
        assert!(lines.iter().any(|line| line[0] > 0.01));
        assert!(lines.iter().all(|line| line[1] < 1e-6));
        let lines = spectrum.two(&loud, [(50, &weights), (1_000, &weights)]);
        assert!(lines.iter().all(|line| *line == [0.0; 2]));
    }
}
