use std::io::{Read, Seek};

use super::TakeError;
use super::rates::{FASTEST_TAKE, MOST_HOURS, SLOWEST_TAKE};

/// Where the bytes of a sound file come from: a file, or a [`Cursor`](std::io::Cursor) over bytes.
pub trait SoundSource: Read + Seek + Send + Sync {}

impl<T: Read + Seek + Send + Sync> SoundSource for T {}

/// Whether sound of a rate and so many frames is a take.
pub(super) fn fits(rate: u32, frames: u64) -> Result<(), TakeError> {
    if !(SLOWEST_TAKE..=FASTEST_TAKE).contains(&rate) {
        return Err(TakeError::Rate { rate });
    }
    if frames > MOST_HOURS * 3_600 * u64::from(rate) {
        return Err(TakeError::TooLong);
    }
    Ok(())
}
