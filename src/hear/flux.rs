use super::spectrum::Spectrum;

/// Frames a second.
pub(super) const FRAMES: u32 = 400;

/// Seconds of a frame's window: the partials of a chord in the middle of a banjo's neck lie far enough apart to
/// be told apart by it, so that they do not beat.
const WINDOW: f64 = 0.023;

/// The lowest and highest edge of the bands, in hertz. Below are a room's rumble and a bass nearby; above, a
/// microphone's noise.
const EDGES: (f64, f64) = (180.0, 11_000.0);

/// Bands to the octave.
const PER_OCTAVE: f64 = 12.0;

/// Frames between the two that are compared: 10 ms, in which a plucked string is there and half a
/// window has gone by.
pub(super) const LAG: usize = 4;

/// Below this share of the take's loud places, a magnitude hardly counts: the knee of the logarithm.
const KNEE: f64 = 0.02;

/// How much new energy comes in with each frame; frame `n` stands for the time `n / FRAMES` seconds.
///
/// A spectral flux on logarithmic magnitudes in bands by pitch. A band is compared with the loudest
/// of itself and its two neighbours 10 ms before, so that a pitch that wavers from one band to the
/// next is nothing new: after Böck and Widmer, "Maximum filter vibrato suppression for onset
/// detection", Proc. 16th Int. Conf. on Digital Audio Effects (DAFx-13), Maynooth 2013 (its method from
/// memory; the numbers here are our own).
pub(super) fn flux(sound: &[f32], rate: u32, loud: f32) -> Vec<f32> {
    let window = (WINDOW * f64::from(rate)).round() as usize;
    let mut spectrum = Spectrum::new(window, window, rate);
    let bands = Bands::new(spectrum.len(), spectrum.step);
    let count = bands.count();
    let frames = (sound.len() as u64 * u64::from(FRAMES)).div_ceil(u64::from(rate.max(1))) as usize;
    let scale = (1.0 / (KNEE * f64::from(loud.max(1e-9)))) as f32;
    // A ring of the last frames, each with an empty band at either end as its neighbour.
    let mut past = vec![vec![0.0_f32; count + 2]; LAG];
    let mut now = vec![0.0_f32; count];
    (0..frames)
        .map(|frame| {
            let middle = (frame as u64 * u64::from(rate) / u64::from(FRAMES)) as isize;
            let magnitudes = spectrum.at(sound, middle - (window / 2) as isize);
            bands.fill(magnitudes, scale, &mut now);
            let Some(before) = past.get_mut(frame % LAG) else { return 0.0 };
            let new: f32 = now
                .iter()
                .zip(before.windows(3))
                .map(|(now, near)| (now - near.iter().copied().fold(0.0, f32::max)).max(0.0))
                .sum();
            if let Some(before) = before.get_mut(1..=count) {
                before.copy_from_slice(&now);
            }
            new / count as f32
        })
        .collect()
}

/// Triangular bands, evenly spaced by pitch where the spectrum is fine enough, and one for each of its lines
/// where it is not.
struct Bands {
    /// For each band its first line and the weights of the lines from there on.
    bands: Vec<(usize, Vec<f32>)>,
}

impl Bands {
    fn new(lines: usize, step: f64) -> Self {
        let top = EDGES.1.min(lines.saturating_sub(1) as f64 * step * 0.96);
        let octaves = (top / EDGES.0).log2().max(0.0);
        let mut middles: Vec<usize> = (0..=(octaves * PER_OCTAVE) as usize)
            .map(|n| (EDGES.0 * (n as f64 / PER_OCTAVE).exp2() / step).round() as usize)
            .collect();
        middles.dedup();
        let bands = middles
            .windows(3)
            .filter_map(|three| {
                let &[low, middle, high] = three else { return None };
                let weight = |line: usize| {
                    if line <= middle {
                        (line - low) as f32 / (middle - low) as f32
                    } else {
                        (high - line) as f32 / (high - middle) as f32
                    }
                };
                Some((low + 1, (low + 1..high).map(weight).collect()))
            })
            .collect();
        Self { bands }
    }

    fn count(&self) -> usize {
        self.bands.len().max(1)
    }

    /// The logarithm of each band's magnitude over the knee.
    fn fill(&self, magnitudes: &[f32], scale: f32, into: &mut [f32]) {
        for ((first, weights), into) in self.bands.iter().zip(into) {
            let lines = magnitudes.get(*first..).unwrap_or_default();
            let sum: f32 = lines.iter().zip(weights).map(|(line, weight)| line * weight).sum();
            *into = (sum * scale).ln_1p();
        }
    }
}
