//! How much later a microphone hears what a loudspeaker plays: by clicks whose times are known.

use crate::hear::RATE;

/// Seconds about a click in which it is looked for. Radio headphones take a third of a second; a device's own word for
/// its delay may be a little too much.
const EARLIEST: f64 = -0.05;
const LATEST: f64 = 0.6;

/// A click is heard where it is so many times as loud as what is there all the time, and is not below -70 dB.
const CLEAR: f32 = 8.0;
const FAINTEST: f32 = 0.0003;

/// Where it has this share of its peak it has begun: below lie what rings before it in filters, and noise.
const BEGUN: f32 = 0.25;

/// Milliseconds from the middle delay within which a click agrees with it.
const AGREES: f64 = 5.0;

/// What was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoopBack {
    /// The middle delay, in milliseconds.
    pub delay: f64,
    /// How far the clicks that agree lie apart, in milliseconds.
    pub spread: f64,
    /// How many clicks agree.
    pub heard: usize,
}

/// Why nothing was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoLoopBack {
    /// The microphone does not hear the loudspeaker.
    #[error(
        "{heard} of {clicks} clicks were heard; put the microphone before the loudspeaker, or one earpiece of the \
         headphones on it, turn the sound up a little, and try again"
    )]
    TooFew {
        /// How many were.
        heard: usize,
        /// How many were played.
        clicks: usize,
    },
    /// The delay is another each time.
    #[error(
        "the {clicks} clicks came back at different times ({agree} within {AGREES} ms of the middle one); let the room be \
         quiet, close other programs that use sound, and try again"
    )]
    Disagree {
        /// How many agree.
        agree: usize,
        /// How many were played.
        clicks: usize,
    },
}

/// The delay of clicks that were played at these seconds of a recording at [`RATE`].
///
/// # Errors
/// [`NoLoopBack`] where fewer than seven in ten were heard, or agree.
pub fn loop_back(sound: &[f32], clicks: &[f64]) -> Result<LoopBack, NoLoopBack> {
    let enough = (clicks.len() * 7).div_ceil(10).max(1);
    // What is there all the time: clicks take but a small part of it.
    let mut levels: Vec<f32> = sound.iter().map(|sample| sample.abs()).collect();
    // Sorted, not selected: a selection takes the square of the time where silence is all one value and the library is
    // built for size, as the page's is.
    levels.sort_unstable_by(f32::total_cmp);
    let floor = levels.get(levels.len() / 2).copied().unwrap_or(0.0);
    let delays =
        clicks.iter().filter_map(|click| Some((begun(sound, *click, floor)? - click) * 1_000.0));
    let mut delays: Vec<f64> = delays.collect();
    if delays.len() < enough {
        return Err(NoLoopBack::TooFew { heard: delays.len(), clicks: clicks.len() });
    }
    delays.sort_unstable_by(f64::total_cmp);
    let middle = delays.get(delays.len() / 2).copied().unwrap_or(0.0);
    delays.retain(|delay| (delay - middle).abs() <= AGREES);
    if delays.len() < enough {
        return Err(NoLoopBack::Disagree { agree: delays.len(), clicks: clicks.len() });
    }
    let ends = delays.first().zip(delays.last());
    Ok(LoopBack {
        delay: delays.get(delays.len() / 2).copied().unwrap_or(middle),
        spread: ends.map_or(0.0, |(first, last)| last - first),
        heard: delays.len(),
    })
}

/// The second at which the sound of a click begins.
fn begun(sound: &[f32], click: f64, floor: f32) -> Option<f64> {
    let place = |seconds: f64| (seconds * f64::from(RATE)).round().max(0.0) as usize;
    let (from, to) = (place(click + EARLIEST), place(click + LATEST).min(sound.len()));
    let window = sound.get(from..to)?;
    let peak = window.iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
    if peak < FAINTEST || peak < CLEAR * floor {
        return None;
    }
    let first = window.iter().position(|sample| sample.abs() >= BEGUN * peak)?;
    Some((from + first) as f64 / f64::from(RATE))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Clicks that come back so many milliseconds later each, and a little noise.
    fn heard(delays: &[f64], loud: f32) -> (Vec<f32>, Vec<f64>) {
        let clicks: Vec<f64> = (0..delays.len()).map(|n| 0.5 + 0.73 * n as f64).collect();
        let mut sound: Vec<f32> =
            (0..9 * RATE).map(|n| ((n * 7_919 % 1_009) as f32 / 1_009.0 - 0.5) * 0.002).collect();
        for (click, delay) in clicks.iter().zip(delays) {
            let at = ((click + delay / 1_000.0) * f64::from(RATE)) as usize;
            for n in 0..400 {
                sound[at + n] += loud * (-(n as f32) / 60.0).exp() * (n as f32 * 0.8).cos();
            }
        }
        (sound, clicks)
    }

    #[test]
    fn the_middle_delay_of_the_clicks_that_agree() {
        let (sound, clicks) =
            heard(&[40.0, 40.4, 39.8, 40.1, 400.0, 40.0, 40.2, 39.9, 40.0, 40.1], 0.2);
        let told = loop_back(&sound, &clicks).unwrap();
        assert!((told.delay - 40.0).abs() < 0.3 && told.spread < 1.0, "{told:?}");
        assert_eq!(told.heard, 9);
        let (sound, clicks) = heard(&[-12.0; 10], 0.05);
        assert!((loop_back(&sound, &clicks).unwrap().delay + 12.0).abs() < 0.3);
    }

    #[test]
    fn what_is_not_heard_or_wavers_is_no_measure() {
        let (sound, clicks) = heard(&[40.0; 10], 0.001);
        assert_eq!(loop_back(&sound, &clicks), Err(NoLoopBack::TooFew { heard: 0, clicks: 10 }));
        let (sound, clicks) =
            heard(&[40.0, 90.0, 10.0, 60.0, 33.0, 45.0, 70.0, 22.0, 50.0, 80.0], 0.2);
        assert!(matches!(loop_back(&sound, &clicks), Err(NoLoopBack::Disagree { clicks: 10, .. })));
        assert!(loop_back(&[], &clicks).is_err());
        assert!(loop_back(&[0.0; 99], &[]).is_err());
    }
}
