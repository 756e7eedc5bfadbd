//! From the sound of a player alone to a take: when each stroke began, how hard it was, and what sounds.
//!
//! 1. `resample`: everything is heard at one rate.
//! 2. `features`: how strong it is in each band, 100 times a second.
//! 3. `net`: how likely a stroke or a slur begins there, told by a small net that learnt it from takes of many
//!    instruments, rooms and microphones.
//! 4. `peaks`: where that is likeliest.
//! 5. `closer`: which of both it is there, if either, told by another small net from what sounds before and after, and
//!    what flashes up (`flashes`).
//! 6. `attack`: when exactly the sound began, from the samples themselves, far finer than the frames of 2.
//! 7. `notes`: what sounds after the attack and did not before it, told by a third.

mod attack;
mod by_note;
mod closer;
mod dot;
mod features;
mod flashes;
mod heard;
mod loudness;
mod net;
mod note_net;
mod notes;
mod passing;
mod peaks;
mod prediction;
mod remarks;
mod resample;
mod sound;
mod spectrum;
mod strokes;
mod tuning;
mod weights;

pub use heard::{Heard, Unheard, hear};
pub use passing::Passing;
pub use remarks::remarks;
pub use resample::{RATE, Resampler, resampled};
pub use sound::{Cancelled, Mixer, Sound};
