//! Where on the neck each note of a tune is stopped: low, on the strings that the strong fingers have, and without a
//! leap that the hand has no time for.

use std::ops::RangeInclusive;

use super::grid::GridStep;
use crate::arrange::Arrangement;
use crate::theory::fretboard::banjo::{BANJO, LONG_STRINGS, SHORT_STRING, number_at, place_of};
use crate::time::Ticks;
use crate::trellis::{Trellis, least_path};

/// A note of the tune on the neck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    /// The step that it begins in.
    pub step: usize,
    pub string: u8,
    pub fret: u8,
    /// The lowest fret under the hand.
    pub hand: u8,
}

impl Place {
    /// The frets that lie under the hand.
    pub(super) const fn under(&self) -> RangeInclusive<u8> {
        under(self.hand)
    }
}

const fn under(hand: u8) -> RangeInclusive<u8> {
    let reach = BANJO.reach;
    hand..=hand + if hand >= reach.higher_from { reach.higher } else { reach.anywhere }
}

/// The lowest places of the hand that are looked at.
const HANDS: RangeInclusive<u8> = 1..=15;

/// What a note costs; common practice, no source, and the figures are ours.
mod weight {
    /// Each fret that the hand lies above the first.
    pub const HIGH: u32 = 1;
    /// A finger on the string.
    pub const STOPPED: u32 = 1;
    /// The short string, whose note is as well had beside the roll.
    pub const SHORT: u32 = 2;
    /// Each fret that the hand moves.
    pub const MOVE: u32 = 3;
    /// What a hand can't do in the time, so that it is done only where there is no other way.
    pub const TOO_FAST: u32 = 500;
    /// The thumb's strings one after the other.
    pub const THUMBS: u32 = 8;
    /// Two notes of a string one after the other, by its number: first, second, third, fourth, short.
    pub const AGAIN: [u32; 5] = [6, 2, 3, 8, 300];
}

/// The time that the hand takes to move by a fret, and to leap by five or more, in milliseconds (common practice, no
/// source).
const MILLIS_A_FRET: f64 = 25.0;
const LEAP: u8 = 5;
const LEAP_MILLIS: f64 = 300.0;

/// A place for each note of the tune, in order.
pub(super) fn places(song: &Arrangement, steps: &[GridStep], capo: u8) -> Vec<Place> {
    let highest = BANJO.frets.saturating_sub(capo);
    let onsets = steps.iter().enumerate().filter_map(|(step, grid)| Some((step, grid.tune?)));
    let layers: Vec<(Ticks, Vec<Place>)> = onsets
        .map(|(step, tune)| {
            let at = steps.get(step).map_or(Ticks::ZERO, |step| step.at);
            (at, of_pitch(step, tune.pitch, highest))
        })
        .filter(|(_, places)| !places.is_empty())
        .collect();
    let path = least_path(&Hand { song, layers: &layers });
    let states = path.map_or_else(Vec::new, |path| path.states);
    layers.iter().zip(states).filter_map(|((_, places), at)| places.get(at).copied()).collect()
}

/// Everywhere that a pitch, without the capo, can be had.
fn of_pitch(step: usize, pitch: u8, highest: u8) -> Vec<Place> {
    let mut places = Vec::new();
    for string in (0..LONG_STRINGS).map(number_at).chain([SHORT_STRING]) {
        let open = BANJO.open.get(place_of(string)).copied().unwrap_or_default();
        let Some(fret) = pitch.checked_sub(open).filter(|fret| *fret <= highest) else { continue };
        if string == SHORT_STRING && fret > 0 {
            continue;
        }
        let hands = HANDS.filter(|hand| fret == 0 || under(*hand).contains(&fret));
        places.extend(hands.map(|hand| Place { step, string, fret, hand }));
    }
    places
}

struct Hand<'a> {
    song: &'a Arrangement,
    layers: &'a [(Ticks, Vec<Place>)],
}

impl Hand<'_> {
    fn between(&self, gap: Ticks, from: &Place, to: &Place) -> u32 {
        let millis = self.song.pace.nanos(gap).seconds() * 1000.0;
        let far = from.hand.abs_diff(to.hand);
        let both = from.fret > 0 && to.fret > 0;
        let leaps = if both { from.fret.abs_diff(to.fret) >= LEAP } else { far >= 2 };
        let late = f64::from(far) * MILLIS_A_FRET > millis || (leaps && millis < LEAP_MILLIS);
        let mut cost = weight::MOVE * u32::from(far) + weight::TOO_FAST * u32::from(late);
        if gap <= Ticks::EIGHTH {
            let thumbs = |string: u8| matches!(string, 4 | SHORT_STRING);
            if from.string == to.string {
                let again = weight::AGAIN.get(usize::from(to.string).saturating_sub(1));
                cost += again.copied().unwrap_or_default();
            } else if thumbs(from.string) && thumbs(to.string) {
                cost += weight::THUMBS;
            }
        }
        cost
    }
}

impl Trellis for Hand<'_> {
    type Cost = u32;

    fn layers(&self) -> usize {
        self.layers.len()
    }

    fn states(&self, layer: usize) -> usize {
        self.layers.get(layer).map_or(0, |(_, places)| places.len())
    }

    fn own(&self, layer: usize, state: usize) -> u32 {
        let place = self.layers.get(layer).and_then(|(_, places)| places.get(state));
        place.map_or(0, |place| {
            weight::HIGH * u32::from(place.hand - 1)
                + weight::STOPPED * u32::from(place.fret > 0)
                + weight::SHORT * u32::from(place.string == SHORT_STRING)
        })
    }

    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[u32],
    ) -> impl Iterator<Item = (usize, u32)> {
        let own = self.layers.get(layer);
        let last = layer.checked_sub(1).and_then(|last| self.layers.get(last));
        let pair = last.zip(own).and_then(|((then, from), (now, places))| {
            Some((*now - *then, from, places.get(state)?))
        });
        pair.into_iter().flat_map(move |(gap, from, to)| {
            let sums = from.iter().zip(before).enumerate();
            sums.map(move |(index, (place, sum))| {
                (index, sum.saturating_add(self.between(gap, place, to)))
            })
        })
    }
}
