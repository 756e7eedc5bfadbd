use super::trend::{mean, spread};
use crate::perform::{Performance, Swing};
use crate::time::{Nanos, Ticks};

/// How far the band's own strokes stray from where each player leans, in milliseconds (standard deviation).
/// What is further than a sixteenth of a quarter off was written between two places.
pub(super) fn band_spread(played: &Performance) -> f64 {
    let mut all = Vec::new();
    for part in &played.parts {
        let mut last = None;
        let mut off: Vec<f64> = Vec::new();
        for note in &part.notes {
            let (place, ticks) = off_grid(note.start, played.swing);
            // Of a strum, its first string.
            if last.replace(place) == Some(place) || ticks.get().abs() > Ticks::QUARTER.get() / 16 {
                continue;
            }
            let Nanos(nanos) = played.tempo.nanos(ticks);
            off.push(nanos as f64 / 1e6);
        }
        let lean = mean(&off);
        all.extend(off.iter().map(|off| off - lean));
    }
    spread(&all)
}

/// The nearest place of the even grid of half pairs, and how far after it as it swings.
fn off_grid(at: Ticks, swing: Swing) -> (i64, Ticks) {
    let half = (swing.pair().get() / 2).max(1);
    let near = at.get().div_euclid(half);
    (near - 1..=near + 2)
        .map(|place| (place, at - swing.moved(Ticks::new(place * half))))
        .min_by_key(|(_, off)| off.get().abs())
        .unwrap_or((near, Ticks::ZERO))
}
