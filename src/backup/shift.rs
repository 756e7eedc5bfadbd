use std::collections::{HashSet, VecDeque};

use crate::theory::fretboard::banjo::{BANJO, Moment, Plucks, Way};
use crate::time::{Tempo, Ticks};

/// How long the left hand takes to move by a fret along the neck, in milliseconds: an octave in 300, three frets
/// within an eighth at 160 half notes a minute (common practice, no source).
pub const MILLIS_A_FRET: f64 = 25.0;

/// What is left where nothing can be played.
const SILENCE: Way = Way { plucks: Plucks::NONE, cost: 0, leads: None };

/// From so many frets apart on the hand leaps, and so many milliseconds it takes at least: it leaves the neck and is
/// set down anew (common practice, no source).
pub const LEAP: u8 = 5;
/// See [`LEAP`].
pub const LEAP_MILLIS: f64 = 300.0;

/// From so many frets apart on nothing holds two notes together but time: a whole beat of a slow song (common practice,
/// no source).
const FAR: u8 = 8;
/// See [`FAR`].
const FAR_MILLIS: f64 = 500.0;

/// The lowest and the highest fret that fingers stop.
pub(super) type Range = (u8, u8);

/// How long the hand takes from one range of frets to another, in milliseconds.
pub(super) fn millis_between(from: Range, to: Range) -> f64 {
    let along = f64::from(shift(from, to)) * MILLIS_A_FRET;
    let apart = from.1.max(to.1) - from.0.min(to.0);
    match apart {
        FAR.. => along.max(FAR_MILLIS),
        LEAP.. => along.max(LEAP_MILLIS),
        _ => along,
    }
}

/// From one end of the neck to the other, in milliseconds.
fn longest() -> f64 {
    LEAP_MILLIS.max(f64::from(BANJO.frets) * MILLIS_A_FRET)
}

/// Takes away the ways for which the left hand comes too late from anywhere that it may have been before: while it
/// is under way there are open strings and silence. The moments of a tune, by their times, are laid out for the hand
/// already and come first: what stands before them makes room.
pub(super) fn within_reach(pace: Tempo, moments: &mut [Moment], tune: &HashSet<i64>) {
    make_room(pace, moments, tune);
    let longest = longest();
    let mut before: VecDeque<(i64, Range)> = VecDeque::new();
    for moment in moments {
        let millis = |at: i64| pace.nanos(Ticks::new(moment.at - at)).seconds() * 1000.0;
        while before.front().is_some_and(|(at, _)| millis(*at) > longest) {
            before.pop_front();
        }
        let of_tune = tune.contains(&moment.at);
        let in_time = |way: &Way| {
            let Some(range) = stopped([way]).filter(|_| !of_tune) else { return true };
            before.iter().all(|(at, from)| millis_between(*from, range) <= millis(*at))
        };
        let ways = moment.ways.iter().filter(|way| in_time(way)).copied().collect();
        moment.ways = ways;
        if moment.ways.is_empty() {
            moment.ways.push(SILENCE);
        }
        before.extend(stopped(&moment.ways).map(|range| (moment.at, range)));
    }
}

/// Takes away the ways from which the left hand comes too late to a note of the tune.
fn make_room(pace: Tempo, moments: &mut [Moment], tune: &HashSet<i64>) {
    for index in 0..moments.len() {
        let (before, rest) = moments.split_at_mut(index);
        let Some(note) = rest.first().filter(|moment| tune.contains(&moment.at)) else { continue };
        let Some(range) = stopped(&note.ways) else { continue };
        for other in before.iter_mut().rev().filter(|other| !tune.contains(&other.at)) {
            let millis = pace.nanos(Ticks::new(note.at - other.at)).seconds() * 1000.0;
            if millis > longest() {
                break;
            }
            let in_time =
                |way: &Way| stopped([way]).is_none_or(|from| millis_between(from, range) <= millis);
            other.ways.retain(in_time);
            if other.ways.is_empty() {
                other.ways.push(SILENCE);
            }
        }
    }
}

/// What is stopped in some ways, if anything is.
fn stopped<'a>(ways: impl IntoIterator<Item = &'a Way>) -> Option<Range> {
    let plucks = ways.into_iter().flat_map(|way| way.plucks.iter());
    let frets = plucks.map(|pluck| pluck.fret).filter(|fret| *fret > 0);
    frets.fold(None, |range, fret| {
        let (low, high) = range.unwrap_or((fret, fret));
        Some((fret.min(low), fret.max(high)))
    })
}

/// How far the hand moves along the neck from one range of frets to another: by what both together are wider than
/// its reach.
fn shift(from: Range, to: Range) -> u8 {
    let (low, high) = (from.0.min(to.0), from.1.max(to.1));
    let reach = BANJO.reach;
    let own = if low >= reach.higher_from { reach.higher } else { reach.anywhere };
    (high - low).saturating_sub(own)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::fretboard::banjo::{Finger, Pluck};
    use crate::time::Meter;

    fn moment(eighth: i64, frets: &[u8]) -> Moment {
        let way = |&fret: &u8| {
            let pluck = Pluck { string: 1, fret, finger: Finger::Middle };
            let plucks = Plucks::NONE.with(pluck).unwrap();
            Way { plucks, cost: 0, leads: None }
        };
        Moment { at: eighth * Ticks::EIGHTH.get(), ways: frets.iter().map(way).collect() }
    }

    #[test]
    fn a_hand_under_way_plays_open_strings_or_nothing() {
        // An eighth lasts 100 ms, too short for a leap: open strings are played on the way.
        let pace = Tempo::new(300.0, Meter::FourFour, 100.0);
        let mut moments =
            [moment(0, &[1]), moment(1, &[8, 9, 0]), moment(2, &[12]), moment(6, &[12])];
        within_reach(pace, &mut moments, &HashSet::new());
        let frets = |moment: &Moment| -> Vec<u8> {
            moment.ways.iter().flat_map(|way| way.plucks.iter()).map(|pluck| pluck.fret).collect()
        };
        assert_eq!(moments.each_ref().map(frets), [vec![1], vec![0], vec![], vec![12]]);
        let mut late = [moment(0, &[1]), moment(1, &[9])];
        within_reach(pace, &mut late, &HashSet::new());
        assert_eq!(late[1].ways, [SILENCE]);
        let mut tune = [moment(0, &[1]), moment(1, &[9])];
        let own = HashSet::from([tune[1].at]);
        within_reach(pace, &mut tune, &own);
        assert_eq!(tune.each_ref().map(frets), [vec![], vec![9]], "the tune comes first");
    }
}
