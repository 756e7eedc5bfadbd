//! Slides, hammer-ons and pull-offs into a note.

use super::grid::GridStep;
use crate::arrange::Arrangement;
use crate::perform::hands::SlurKind;
use crate::theory::fretboard::banjo::{SHORT_STRING, sounding};
use crate::theory::{Chord, Scale};
use crate::time::Ticks;

/// The shortest time from one note of a slur to the next, in milliseconds: a trill of sixteenths at 200 quarters a
/// minute has 75 (common practice, no source).
const FASTEST_MILLIS: f64 = 60.0;

/// True if the left hand has the time for a slur from one note to another so much later.
pub(super) fn in_time(song: &Arrangement, later: Ticks) -> bool {
    song.pace.nanos(later).seconds() * 1000.0 >= FASTEST_MILLIS
}

/// True if the half of a step is long enough for a slur.
pub(super) fn fits(song: &Arrangement, step: &GridStep) -> bool {
    in_time(song, Ticks::new(step.length.get() / 2))
}

/// How a string is taken from one fret to another, at most two away; `None` if it is not.
pub(super) fn kind(string: u8, from: u8, to: u8) -> Option<SlurKind> {
    let far = from.abs_diff(to);
    if string == SHORT_STRING || !(1..=2).contains(&far) {
        return None;
    }
    Some(match (from, to) {
        (0, _) => SlurKind::Hammer,
        (_, 0) => SlurKind::Pull,
        _ if far == 2 => SlurKind::Slide,
        _ if from < to => SlurKind::Hammer,
        _ => SlurKind::Pull,
    })
}

/// From where a note is slurred into: from a note of the scale below, or of the blue one under the chord's third; into
/// an open string from above. `lowest` is the lowest fret that the hand has.
pub(super) fn into(
    song: &Arrangement,
    chord: &Chord,
    (string, fret): (u8, u8),
    lowest: u8,
    capo: u8,
) -> Option<(SlurKind, u8)> {
    let scale = Scale::of(song.key, chord);
    let class = |fret: u8| sounding(string, fret, capo).pitch_class();
    let third = chord.quality.third().map(|third| (chord.root.pitch_class() + third) % 12);
    let stepping = |from: &u8| {
        let blue = from + 1 == fret && third == Some(class(fret));
        (scale.has(i32::from(class(*from))) || blue) && (*from == 0 || *from >= lowest)
    };
    let from = if fret == 0 {
        // From a finger that lies near the nut.
        if lowest > 2 {
            return None;
        }
        [2, 1].into_iter().find(stepping)?
    } else {
        [2, 1].into_iter().filter_map(|far| fret.checked_sub(far)).find(stepping)?
    };
    Some((kind(string, from, fret)?, from))
}
