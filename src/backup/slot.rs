use crate::arrange::{Arrangement, Bar};
use crate::chart::Stop;

/// The shortest time between two picks, in milliseconds: eighths at 176 half notes a minute. Fingers go
/// faster for a while, but hardly for a song (common practice, no source).
pub(super) const FASTEST_MILLIS: f64 = 85.0;

/// True if the next bar lets a role be heard at its head.
pub(super) fn is_heard(song: &Arrangement, bar: &Bar) -> bool {
    let stops = song.stops.get(bar.stops.clone()).unwrap_or_default();
    stops.first().is_none_or(|stop| stop.start > bar.start || stop.stop != Stop::Silence)
}
