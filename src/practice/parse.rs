use std::num::NonZeroU32;
use std::ops::RangeInclusive;

use thiserror::Error;

use super::Ramp;
use crate::chart::MOST_PASSES;

/// Practice speeds in percent that may be asked for: slower is no music, faster no practice.
pub const SPEEDS: RangeInclusive<f64> = 10.0..=400.0;

/// The steps of a ramp in percent that may be asked for.
const STEPS: RangeInclusive<f64> = 0.5..=100.0;

/// How much a ramp adds a round where it does not say: what one press of the key for faster adds.
const STEP: f64 = 4.0;

/// The most bars of each chord in a drill: past these it is no change that is practised.
pub const MOST_DRILL_BARS: u32 = 16;

/// A number for practising that cannot be used.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum PracticeError {
    /// A ramp is not FROM:TO:STEP.
    #[error("write FROM:TO:STEP in percent, as in 60:100:4, or FROM:TO for steps of {STEP}")]
    Shape,
    /// A speed of a ramp is none.
    #[error("`{found}` is no practice speed; write a percentage from {} to {}", SPEEDS.start(), SPEEDS.end())]
    Speed {
        /// What is written.
        found: String,
    },
    /// The step of a ramp is none.
    #[error("`{found}` is no step; write a percentage from {} to {}", STEPS.start(), STEPS.end())]
    Step {
        /// What is written.
        found: String,
    },
    /// A ramp ends where it begins.
    #[error(
        "this goes from {speed} to {speed}, which is nowhere; write --speed {speed} for one speed"
    )]
    Level {
        /// The speed.
        speed: String,
    },
    /// A number of times is none.
    #[error("write how many times, a whole number from 1 to {MOST_PASSES}")]
    Times,
    /// A number of bars is none.
    #[error("write how many bars of each chord, a whole number from 1 to {MOST_DRILL_BARS}")]
    Bars,
}

/// Reads `FROM:TO:STEP` in percent, with or without the signs: `60:100:4`, `60%:100%:4%`. Without a
/// step it is four.
///
/// # Errors
/// [`PracticeError`], with what to write.
pub fn parse_ramp(text: &str) -> Result<Ramp, PracticeError> {
    let parts: Vec<&str> = text.split(':').map(str::trim).collect();
    let (from, to, step) = match parts.as_slice() {
        [from, to] => (*from, *to, None),
        [from, to, step] => (*from, *to, Some(*step)),
        _ => return Err(PracticeError::Shape),
    };
    let speed = |text: &str| {
        percent(text, &SPEEDS).ok_or_else(|| PracticeError::Speed { found: text.to_owned() })
    };
    let step = step.map_or(Ok(STEP), |text| {
        percent(text, &STEPS).ok_or_else(|| PracticeError::Step { found: text.to_owned() })
    });
    let ramp = Ramp { from: speed(from)?, to: speed(to)?, step: step? };
    if ramp.from == ramp.to {
        return Err(PracticeError::Level { speed: ramp.from.to_string() });
    }
    Ok(ramp)
}

/// Reads how often something is played.
///
/// # Errors
/// [`PracticeError::Times`].
pub fn parse_times(text: &str) -> Result<NonZeroU32, PracticeError> {
    let times: Option<NonZeroU32> = text.trim().parse().ok();
    times.filter(|times| times.get() as usize <= MOST_PASSES).ok_or(PracticeError::Times)
}

/// Reads how many bars of each chord a drill has.
///
/// # Errors
/// [`PracticeError::Bars`].
pub fn parse_drill_bars(text: &str) -> Result<u32, PracticeError> {
    let bars = text.trim().parse().ok();
    bars.filter(|bars| (1..=MOST_DRILL_BARS).contains(bars)).ok_or(PracticeError::Bars)
}

fn percent(text: &str, range: &RangeInclusive<f64>) -> Option<f64> {
    let number = text.strip_suffix('%').unwrap_or(text).trim().parse().ok();
    number.filter(|number| range.contains(number))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ramps_read_as_written() {
        let ramp = |from, to, step| Ok(Ramp { from, to, step });
        assert_eq!(parse_ramp("60:100:4"), ramp(60.0, 100.0, 4.0));
        assert_eq!(parse_ramp(" 60% : 102.5 %:2.5%"), ramp(60.0, 102.5, 2.5));
        assert_eq!(parse_ramp("60:100"), ramp(60.0, 100.0, 4.0));
        assert_eq!(parse_ramp("100:50:10"), ramp(100.0, 50.0, 10.0), "down");
    }

    #[test]
    fn what_is_no_number_is_told_with_what_to_write() {
        for (text, said) in [
            ("", "FROM:TO:STEP"),
            ("60", "FROM:TO:STEP"),
            ("60-100", "FROM:TO:STEP"),
            ("60:100:4:1", "FROM:TO:STEP"),
            ("x:100:4", "`x` is no practice speed; write a percentage from 10 to 400"),
            ("60:nan:4", "`nan`"),
            ("60:1e9", "`1e9`"),
            ("60:100:", "`` is no step"),
            ("60:100:-4", "`-4` is no step; write a percentage from 0.5 to 100"),
            ("80:80:4", "--speed 80"),
        ] {
            let error = parse_ramp(text).unwrap_err().to_string();
            assert!(error.contains(said), "{text}: {error}");
        }
        assert_eq!(parse_times(" 3 "), Ok(NonZeroU32::new(3).unwrap()));
        assert_eq!(parse_drill_bars("2"), Ok(2));
        for wrong in ["0", "-1", "x", "", "99999999999", "2.5"] {
            assert_eq!(parse_times(wrong), Err(PracticeError::Times), "{wrong}");
            assert_eq!(parse_drill_bars(wrong), Err(PracticeError::Bars), "{wrong}");
        }
    }
}
