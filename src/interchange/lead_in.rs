//! A pickup and the bar before it, where both together are one bar.

use super::fit::{Fit, Own};
use super::tune::{Measure, Sounding, TimeSignature, What};

/// True if a bar with these notes, which is so long, and the pickup after it are one bar of a length of its own: it sounds
/// where the pickup would come over its end, or is short itself, and a chart has bars for both together. A rest that a
/// whole bar ends with is the pickup's room.
pub(super) fn makes_longer(
    (notes, length): (&[Sounding], i64),
    pickup: &Measure,
    time: TimeSignature,
) -> bool {
    let (lead_in, whole) = (pickup.length(), pickup.time.length());
    let leads_in = !pickup.time.free && lead_in > 0 && lead_in < whole && length > lead_in;
    let from = length.max(whole) - lead_in;
    let mut at = 0;
    let sounds_under = notes.iter().any(|note| {
        at += note.length;
        at > from && matches!(note.what, What::Note(_) | What::Hold)
    });
    // A tune of short notes may be written in longer ones.
    let plain = Fit::of(time);
    let has_bars = |fit: Fit| fit.bars(fit.scaled(length + lead_in), Own::default()).is_some();
    let some = has_bars(plain) || plain.in_longer_values().is_some_and(has_bars);
    leads_in && (sounds_under || length < whole) && some
}
