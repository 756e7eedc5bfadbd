use super::features::{in_steps, scale};
use super::spectrum::{Spectrum, hann};

/// Moments before and after a place, and samples of each: 4 ms.
pub(super) const BEFORE: usize = 6;
pub(super) const AFTER: usize = 10;
pub(super) const MOMENT: usize = 64;
const MOMENTS: usize = BEFORE + AFTER;

/// Samples around each moment's middle that are transformed: lines 125 Hz apart.
const SIZE: usize = 128;

/// The line with which each band begins, and one past the last of all.
const EDGES: [usize; BANDS + 1] = [1, 3, 5, 8, 12, 18, 28, 42, 64];
const BANDS: usize = 8;

/// How many there are around a place.
pub(super) const FLASHES: usize = MOMENTS * BANDS;

/// What is heard in a few bands from moment to moment, against the whole take's loudness: a pick's noise is short, wide and
/// nearly always as loud, a finger's is not.
pub(super) struct Flashes {
    spectrum: Spectrum,
    weights: Vec<f32>,
    scale: f32,
}

impl Flashes {
    /// For a take whose loud places are as loud as `loud`.
    pub fn new(loud: f32) -> Self {
        Self { spectrum: Spectrum::new(SIZE), weights: hann(SIZE), scale: scale(loud) }
    }

    /// Around the sample `at`: moment by moment, in each from the lowest band.
    pub fn around(&mut self, sound: &[f32], at: isize) -> [f32; FLASHES] {
        let mut flashes = [0.0; FLASHES];
        let start = at - (BEFORE * MOMENT) as isize + (MOMENT / 2) as isize - (SIZE / 2) as isize;
        for (two, from) in flashes.chunks_mut(2 * BANDS).zip((start..).step_by(2 * MOMENT)) {
            let weights = &self.weights;
            let lines =
                self.spectrum.two(sound, [(from, weights), (from + MOMENT as isize, weights)]);
            for (which, moment) in two.chunks_mut(BANDS).enumerate() {
                for (band, edges) in moment.iter_mut().zip(EDGES.windows(2)) {
                    let &[low, high] = edges else { continue };
                    let lines = lines.get(low..high).unwrap_or_default();
                    let sum: f32 = lines.iter().filter_map(|line| line.get(which)).sum();
                    *band = in_steps(sum * self.scale) / 2.0;
                }
            }
        }
        flashes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_click_stands_in_its_moment_and_in_every_band() {
        let mut sound = vec![0.0; 4_000];
        // In the middle of the third moment from the place on.
        sound[2_000 + 2 * MOMENT + MOMENT / 2] = 0.5;
        let told = Flashes::new(0.1).around(&sound, 2_000);
        let moments: Vec<&[f32]> = told.chunks(BANDS).collect();
        for (n, bands) in moments.iter().enumerate() {
            // A window is two moments long: at their middles its neighbours' all but end.
            if n == BEFORE + 2 {
                assert!(bands.iter().all(|x| *x > 0.3), "{n}: {bands:?}");
            } else {
                assert!(bands.iter().all(|x| *x < 0.1), "{n}: {bands:?}");
            }
        }
        assert_eq!(Flashes::new(0.1).around(&[], -9_000), [0.0; FLASHES]);
    }

    #[test]
    fn a_tone_stands_in_its_band_and_twice_as_loud_a_take_makes_less_of_it() {
        let hertz = 2_500.0;
        let sound: Vec<f32> = (0..4_000)
            .map(|n| (std::f64::consts::TAU * hertz * f64::from(n) / 16_000.0).sin() as f32 * 0.1)
            .collect();
        let [soft, loud] = [0.1, 0.2].map(|level| Flashes::new(level).around(&sound, 2_000));
        for (soft, loud) in soft.chunks(BANDS).zip(loud.chunks(BANDS)) {
            // Lines 18 to 27 hold 2250 to 3375 Hz.
            let most = soft.iter().copied().fold(0.0, f32::max);
            assert_eq!(soft[5], most, "{soft:?}");
            // The logarithm of twice, but for a rest of one.
            assert!((soft[5] - loud[5] - 0.5 * 2.0_f32.ln()).abs() < 0.03, "{soft:?} {loud:?}");
        }
    }
}
