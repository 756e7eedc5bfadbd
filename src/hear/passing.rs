use super::heard::hear;
use super::resample::RATE;
use super::sound::Sound;
use crate::take::Hit;
use crate::time::Nanos;

/// How much is heard each time, and how old a stroke must be: of what has only begun to sound little can be said. In
/// samples.
const WINDOW: usize = 4 * RATE as usize;
const YOUNG: usize = RATE as usize / 3;

/// Hears sound in passing, while it still comes: not as well as [`hear`] hears all of it.
#[derive(Debug, Default)]
pub struct Passing {
    /// The sample up to which strokes were told.
    told: usize,
}

impl Passing {
    /// How often it is worth it, in samples at [`RATE`].
    pub const EVERY: usize = RATE as usize / 2;

    /// The strokes that are new in `heard`, all that came so far at [`RATE`]; each at its time since the first sample.
    pub fn fresh(&mut self, heard: &[f32]) -> Vec<Hit> {
        let to = heard.len().saturating_sub(YOUNG);
        let from = heard.len().saturating_sub(WINDOW);
        let window = heard.get(from..).unwrap_or_default().to_vec();
        let sound = Sound::new(window, 1, RATE);
        let Ok(heard) = hear(&sound.samples, sound.rate) else { return Vec::new() };
        let since = std::mem::replace(&mut self.told, to);
        let hits = heard.take.hits.into_iter().filter_map(|hit| {
            let sample = from as f64 + hit.at.seconds() * f64::from(RATE);
            let at = Nanos((sample * 1e9 / f64::from(RATE)).round() as i64);
            (since as f64..to as f64).contains(&sample).then_some(Hit { at, ..hit })
        });
        hits.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A string that is struck every half second: what dies away from 440 Hz, and its octave.
    fn strokes(seconds: usize) -> Vec<f32> {
        let sample = |n: usize| {
            let at = (n % (RATE as usize / 2)) as f32 / RATE as f32;
            let tone = |hertz: f32| (std::f32::consts::TAU * hertz * at).sin();
            0.4 * (-6.0 * at).exp() * (tone(440.0) + 0.5 * tone(880.0) + 0.3 * tone(1_320.0))
        };
        (0..seconds * RATE as usize).map(sample).collect()
    }

    #[test]
    fn each_stroke_is_told_once_and_when_it_was() {
        let sound = strokes(12);
        let mut passing = Passing::default();
        let ends = (Passing::EVERY..=sound.len()).step_by(Passing::EVERY);
        let told: Vec<f64> =
            ends.flat_map(|end| passing.fresh(&sound[..end])).map(|hit| hit.at.seconds()).collect();
        assert!(told.is_sorted() && told.len() >= 20, "{told:?}");
        for at in told {
            let off = at - (at * 2.0).round() / 2.0;
            assert!(off.abs() < 0.03, "{at}");
        }
    }
}
