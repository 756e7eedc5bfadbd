use super::stroke::{Does, Others, Stroke};
use super::tone::Tone;

/// A tune as it is written, one note at a time: what shows a singer the words, or stands where nobody is named.
pub(super) fn play(tones: &[Tone]) -> Vec<Stroke> {
    let strike = |tone: &Tone| Does::Strikes(vec![(0, tone.pitch)], Others::Stop);
    tones.iter().map(|tone| Stroke::of(tone, strike(tone))).collect()
}
