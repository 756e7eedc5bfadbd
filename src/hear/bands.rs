use super::spectrum::Spectrum;

/// Seconds of a window. Long enough that the strings of a chord do not beat within a band, so that what
/// rings stands still and only what is struck is new; with half of it, one stroke in five of a fast roll on a
/// guitar went unheard under the ringing of those before.
const WINDOW: f64 = 0.046;

/// The lowest and highest edge of the bands, in hertz. Below are a room's rumble and a bass nearby; above, a
/// microphone's noise.
const EDGES: (f64, f64) = (180.0, 11_000.0);

/// Bands to the octave.
const PER_OCTAVE: f64 = 36.0;

/// Below this share of the take's loud places a band hardly counts: the knee of its logarithm. It lies above
/// what a converter of 8 bits adds in a band.
const KNEE: f64 = 0.004;

/// And below this many times what the band holds where it is quiet, which is the noise of the room and of
/// the microphone.
const OVER_QUIET: f32 = 3.0;

/// Where a band counts as quiet: the loudness that it stays below for a tenth of the take.
const QUIET: (usize, usize) = (1, 10);

/// Places of the take at which is looked how quiet the bands get.
const LOOKS: usize = 2_000;

/// The sound in bands by pitch: triangles, evenly spaced where the spectrum is fine enough, and one for each of
/// its lines where it is not.
pub(super) struct Bands {
    spectrum: Spectrum,
    bands: Vec<Band>,
    window: usize,
}

struct Band {
    first: usize,
    weights: Vec<f32>,
    knee: f32,
}

impl Bands {
    /// For one take, whose loud places are as loud as `loud`.
    pub fn new(sound: &[f32], rate: u32, loud: f32) -> Self {
        let window = (WINDOW * f64::from(rate)).round() as usize;
        let spectrum = Spectrum::new(window, window, f64::from(rate));
        let step = spectrum.step();
        let top = EDGES.1.min(spectrum.lines().saturating_sub(1) as f64 * step * 0.96);
        let octaves = (top / EDGES.0).log2().max(0.0);
        let mut middles: Vec<usize> = (0..=(octaves * PER_OCTAVE) as usize)
            .map(|n| (EDGES.0 * (n as f64 / PER_OCTAVE).exp2() / step).round() as usize)
            .collect();
        middles.dedup();
        let triangle = |three: &[usize]| {
            let &[low, middle, high] = three else { return None };
            let weight = |line: usize| {
                if line <= middle {
                    (line - low) as f32 / (middle - low) as f32
                } else {
                    (high - line) as f32 / (high - middle) as f32
                }
            };
            let weights = (low + 1..high).map(weight).collect();
            Some(Band { first: low + 1, weights, knee: 1.0 })
        };
        let bands = middles.windows(3).filter_map(triangle).collect();
        let mut all = Self { spectrum, bands, window };
        all.set_knees(sound, rate, loud);
        all
    }

    fn set_knees(&mut self, sound: &[f32], rate: u32, loud: f32) {
        let mut seen: Vec<Vec<f32>> = vec![Vec::new(); self.count()];
        let mut now = vec![0.0; self.count()];
        let step = (sound.len() / LOOKS).max(rate as usize / 40).max(1);
        for from in (0..sound.len().saturating_sub(self.window)).step_by(step) {
            self.magnitudes(sound, from as isize, &mut now);
            seen.iter_mut().zip(&now).for_each(|(seen, now)| seen.push(*now));
        }
        let least = (KNEE as f32 * loud).max(1e-9);
        for (band, seen) in self.bands.iter_mut().zip(&mut seen) {
            let place = seen.len() * QUIET.0 / QUIET.1;
            let quiet = if place < seen.len() {
                *seen.select_nth_unstable_by(place, f32::total_cmp).1
            } else {
                0.0
            };
            band.knee = least.max(OVER_QUIET * quiet);
        }
    }

    /// How many bands there are; none at a rate too low for any.
    pub fn count(&self) -> usize {
        self.bands.len()
    }

    /// Samples of a window.
    pub fn window(&self) -> usize {
        self.window
    }

    /// The magnitudes in each band from a sample on.
    pub fn magnitudes(&mut self, sound: &[f32], from: isize, into: &mut [f32]) {
        let lines = self.spectrum.at(sound, from);
        for (band, into) in self.bands.iter().zip(into) {
            let lines = lines.get(band.first..).unwrap_or_default();
            *into = lines.iter().zip(&band.weights).map(|(line, weight)| line * weight).sum();
        }
    }

    /// The same as logarithms over each band's knee: 0 where there is nothing.
    pub fn logarithms(&mut self, sound: &[f32], from: isize, into: &mut [f32]) {
        self.magnitudes(sound, from, into);
        for (band, into) in self.bands.iter().zip(into) {
            *into = (*into / band.knee).ln_1p();
        }
    }
}
