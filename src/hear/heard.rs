use std::borrow::Cow;

use super::loudness::{loud_and_quiet, own_level, velocities};
use super::notes::{Begun, Ear};
use super::resample::{RATE, resampled};
use super::strokes::{Kind, begun};
use crate::take::{Hit, Source, Take};
use crate::time::Nanos;

/// Seconds that a take must last at least.
const SHORTEST: f64 = 0.5;

/// Samples a second below which nothing is left of a string but a hum. No recorder makes such a file.
const LOWEST_RATE: u32 = 2_000;

/// A peak below this share of full scale is no playing: -66 dB, the hiss of a cheap microphone.
const SILENT: f32 = 0.0005;

/// A sound whose loud places are not even this many times as loud as its quiet ones, 2 dB, is hiss or hum: a string
/// that is picked is loud, and fades. Hiss wavers by 1.5 dB at most.
const EVEN: f32 = 1.26;

/// What was heard in a recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// The strokes.
    pub take: Take,
    /// Where a string that sounded already went on with another note: slides, hammer-ons, pull-offs. None of them is
    /// among the strokes.
    pub slurs: Vec<Hit>,
    /// The loudest sample, in decibels below full scale: 0 or less, but for floats that go beyond.
    pub peak: f64,
    /// How loud it is where it is loud, in decibels below full scale.
    pub loud: f64,
    /// How loud it is where it is quiet, in decibels below full scale: the noise floor, where the player
    /// pauses at all.
    pub floor: f64,
    /// How far the strings are off 440 Hz, in cents; `None` where too few notes were made out.
    pub tuning: Option<f64>,
}

/// Why nothing was heard in a recording.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Unheard {
    /// It is over before anything could be said of it.
    #[error("the take lasts {seconds:.2} seconds; record at least a bar or two")]
    TooShort {
        /// Its length.
        seconds: f64,
    },
    /// There is nothing on it.
    #[error(
        "the take is silent{}; check that the right microphone was chosen and turned up, and record again",
        loudest(*.peak)
    )]
    Silent {
        /// Decibels below full scale, a positive number.
        peak: f64,
    },
    /// There is sound, but no strokes.
    #[error(
        "no strokes can be heard in the take, only an even sound; record the banjo alone and closer to \
         the microphone"
    )]
    NoStrokes,
}

/// How loud a silent take is, unless there is nothing at all in it: no converter goes below 144 dB, 24 bits.
fn loudest(peak: f64) -> String {
    if peak < 144.0 {
        format!(" (its loudest moment is {peak:.0} dB below full scale)")
    } else {
        String::new()
    }
}

/// Hears a player in a recording: one channel of samples from −1 to 1, `rate` a second.
///
/// # Errors
/// [`Unheard`] where there is nothing to be heard.
pub fn hear(samples: &[f32], rate: u32) -> Result<Heard, Unheard> {
    let rate = rate.max(1);
    let seconds = samples.len() as f64 / f64::from(rate);
    if seconds < SHORTEST {
        return Err(Unheard::TooShort { seconds });
    }
    if rate < LOWEST_RATE {
        return Err(Unheard::NoStrokes);
    }
    let peak = samples.iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
    if peak < SILENT {
        return Err(Unheard::Silent { peak: -decibels(peak) });
    }
    let sound =
        if rate == RATE { Cow::Borrowed(samples) } else { Cow::Owned(resampled(samples, rate)) };
    let (loud, quiet) = loud_and_quiet(&sound, RATE);
    let begun = begun(&sound, loud);
    if begun.iter().all(|(_, kind)| *kind == Kind::Slur) || loud < EVEN * quiet {
        return Err(Unheard::NoStrokes);
    }
    let starts: Vec<f64> = begun.iter().map(|(at, _)| *at).collect();
    let around = Begun::all(&starts, sound.len());
    let mut ear = Ear::new(&sound);
    let tuning = ear.tuning(&around);
    let (mut hits, mut slurs) = (Vec::new(), Vec::new());
    let levels: Vec<f64> = starts.iter().map(|at| own_level(&sound, RATE, *at)).collect();
    let louds = velocities(&levels);
    for (((at, kind), around), loud) in begun.into_iter().zip(&around).zip(louds) {
        let hit = Hit {
            at: Nanos((at / f64::from(RATE) * 1e9).round() as i64),
            loud,
            pitches: ear.notes(around),
        };
        match kind {
            Kind::Stroke => hits.push(hit),
            Kind::Slur => slurs.push(hit),
        }
    }
    let length = Nanos((seconds * 1e9).round() as i64);
    let take = Take { hits, length, source: Source::Sound };
    Ok(Heard {
        take,
        slurs,
        peak: decibels(peak),
        loud: decibels(loud),
        floor: decibels(quiet),
        tuning,
    })
}

/// In decibels against full scale, not below what 32 bits can tell from nothing.
fn decibels(level: f32) -> f64 {
    20.0 * f64::from(level.max(1e-10)).log10()
}
