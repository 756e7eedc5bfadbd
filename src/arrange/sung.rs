//! Which eighths of a bar are sung.

use crate::chart::Share;
use crate::time::{BarMeter, Ticks};

/// A bit for each eighth note of a bar, of which no bar has more than [`BarMeter::MOST_EIGHTHS`].
pub(super) fn sung_eighths(singing: &[Share<bool>]) -> u16 {
    let eighths = singing.iter().flat_map(|share| {
        let count = share.length.get() / Ticks::EIGHTH.get();
        (0..count).map(|_| share.value)
    });
    (0..BarMeter::MOST_EIGHTHS)
        .zip(eighths)
        .fold(0, |bits, (at, sung)| bits | u16::from(sung) << at)
}
