use super::attack::attack;
use super::bands::Bands;
use super::flux::{FRAMES, flux};
use super::peaks::peaks;

/// Decibels below the take's middle stroke at which something that is struck is not the player's any more, but
/// a band from a loudspeaker, a chair, a page that is turned. A player's soft strokes are within about 10 dB
/// of the middle (the built-in banjo's velocities from 50 to 120 span 11 dB).
const SOFTER: f32 = 13.0;

/// Seconds by which strokes are apart at least; what is nearer is one stroke.
const APART: f64 = 0.025;

/// Strokes that the middle one is taken of at least: below, the loudest counts.
const FEW: usize = 4;

/// When each stroke began, in samples.
pub(super) fn strokes(sound: &[f32], rate: u32, loud: f32) -> Vec<f64> {
    let mut bands = Bands::new(sound, rate, loud);
    let flux = flux(sound, rate, &mut bands);
    let frame = f64::from(rate) / f64::from(FRAMES);
    let mut energy = Energy::new(&bands, loud);
    let mut found: Vec<(f64, f32)> = peaks(&flux)
        .into_iter()
        .map(|peak| {
            let at = attack(sound, rate, (peak as f64 * frame) as usize);
            (at, energy.new_at(sound, at, &mut bands))
        })
        .collect();
    let mut energies: Vec<f32> = found.iter().map(|(_, energy)| *energy).collect();
    energies.sort_unstable_by(f32::total_cmp);
    let middle =
        if energies.len() < FEW { energies.len().saturating_sub(1) } else { energies.len() / 2 };
    let least = energies.get(middle).copied().unwrap_or(0.0) * 10.0_f32.powf(-SOFTER / 10.0);
    found.retain(|(_, energy)| *energy >= least && *energy > 0.0);
    found.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    // Of two that are too near to each other the one with more energy is kept.
    let apart = APART * f64::from(rate);
    found.dedup_by(|later, earlier| {
        let near = later.0 - earlier.0 < apart;
        if near && later.1 > earlier.1 {
            *earlier = *later;
        }
        near
    });
    found.into_iter().map(|(at, _)| at).collect()
}

/// Measures what energy is there after a moment that was not there before it.
struct Energy {
    before: Vec<f32>,
    after: Vec<f32>,
    loud: f32,
}

impl Energy {
    fn new(bands: &Bands, loud: f32) -> Self {
        let empty = vec![0.0; bands.count()];
        Self { before: empty.clone(), after: empty, loud }
    }

    /// Over the square of the take's loudness, so that it is of the order of 1 for a stroke.
    fn new_at(&mut self, sound: &[f32], at: f64, bands: &mut Bands) -> f32 {
        let at = at as isize;
        bands.magnitudes(sound, at - bands.window() as isize, &mut self.before);
        bands.magnitudes(sound, at, &mut self.after);
        let new = self.after.iter().zip(&self.before).map(|(after, before)| {
            let (after, before) = (after / self.loud, before / self.loud);
            (after * after - before * before).max(0.0)
        });
        new.sum()
    }
}
