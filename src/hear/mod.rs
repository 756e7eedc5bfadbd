//! From the sound of a player alone to a take: when each stroke began, how hard it was, and what sounds.
//!
//! 1. `flux`: how much new energy comes in, band by band, 200 times a second. A string that rings
//!    brings none, and one that wavers in pitch only moves it to the next band.
//! 2. `peaks`: where that stands out from what is around it.
//! 3. `attack`: when exactly the sound began, from the samples themselves, far finer than the frames of 1.
//! 4. `notes`: what sounds after the attack and did not before it.
//!
//! All in milliseconds and hertz, never in samples, so that every rate is heard by the same rules.

mod attack;
mod bands;
mod decimate;
mod dot;
mod flux;
mod harmonics;
mod heard;
mod loudness;
mod notes;
mod peaks;
mod prediction;
mod resample;
mod sound;
mod spectrum;
mod strokes;

pub use heard::{Heard, Unheard, hear};
pub use resample::{RATE, Resampler, resampled};
pub use sound::{Cancelled, Mixer, Sound};
