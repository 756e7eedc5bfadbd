use crate::arrange::Arrangement;
use crate::perform::Performance;

/// The tempo in beats a minute, and the practice speed in percent.
pub(super) fn pace(song: &Arrangement, played: &Performance) -> (f64, f64) {
    let speed = f64::from(song.pace.micros_per_quarter())
        / f64::from(song.tempo.micros_per_quarter())
        * 100.0;
    // The tempo is held in whole microseconds.
    (played.tempo.beats_per_minute(song.meter), (speed * 1e3).round() / 1e3)
}
