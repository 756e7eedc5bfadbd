use crate::theory::fretboard::banjo::{Moment, Plucks, Way};
use crate::time::{Tempo, Ticks};

/// How long the left hand takes to move by a fret along the neck, in milliseconds: an octave in 300, three frets
/// within an eighth at 160 half notes a minute (common practice, no source).
pub const MILLIS_A_FRET: f64 = 25.0;

/// What is left where nothing can be played.
const SILENCE: Way = Way { plucks: Plucks::NONE, cost: 0, leads: None };

/// Where the left hand is when something is picked.
#[derive(Clone, Copy, Debug)]
pub(super) struct At {
    /// The bar.
    pub bar: u32,
    /// The fret of its first finger.
    pub position: u8,
}

/// Takes away the ways for which the left hand comes too late: while it is under way there are open strings and
/// silence.
pub(super) fn within_reach(pace: Tempo, places: &[At], moments: &mut [Moment]) {
    let mut last: Option<(i64, u8)> = None;
    for (place, moment) in places.iter().zip(moments) {
        let there = last.is_none_or(|(at, position)| {
            let millis = pace.nanos(Ticks::new(moment.at - at)).seconds() * 1000.0;
            f64::from(position.abs_diff(place.position)) * MILLIS_A_FRET <= millis
        });
        let is_open = |way: &Way| way.plucks.iter().all(|pluck| pluck.fret == 0);
        if !there {
            moment.ways.retain(is_open);
            if moment.ways.is_empty() {
                moment.ways.push(SILENCE);
            }
        } else if !moment.ways.iter().all(is_open) {
            last = Some((moment.at, place.position));
        }
    }
}
