/// Seconds after the attack in which a stroke is at its loudest.
const STROKE: f64 = 0.04;

/// Seconds of a block of which the take's loud places are found.
const BLOCK: f64 = 0.023;

/// The root of the mean square.
fn rms(sound: &[f32]) -> f32 {
    let sum: f64 = sound.iter().map(|sample| f64::from(*sample).powi(2)).sum();
    (sum / sound.len().max(1) as f64).sqrt() as f32
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

/// How hard a stroke was, as a MIDI velocity, from its loudness against the take's loud places.
///
/// A velocity's square is the usual measure of amplitude (General MIDI level 2: 40 dB times the
/// logarithm of velocity over 127; from memory). The take's loud places stand for 100, since how far the
/// microphone was is not known.
pub(super) fn velocity(sound: &[f32], rate: u32, at: f64, loud: f32) -> u8 {
    let from = at.max(0.0) as usize;
    let to = (from + (STROKE * f64::from(rate)) as usize).min(sound.len());
    let level = rms(sound.get(from..to).unwrap_or_default());
    let velocity = 100.0 * (level / loud.max(1e-9)).sqrt();
    velocity.round().clamp(1.0, 127.0) as u8
}
