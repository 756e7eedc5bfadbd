//! What stands in a bar: chords at their places, slashes, where somebody sings, stops.

use super::{Cell, ChordText, ChordsAs, How, PlacedChord, StopMark};
use crate::chart::{ChartBar, Pickup, Share, Stop};
use crate::theory::{Chord, Key, Transposition};
use crate::time::{Meter, Ticks};

/// How wide a pickup is, in bars.
const PICKUP: f64 = 0.5;
/// How narrow a short bar gets: its chord must stand in it.
const NARROWEST: f64 = 0.6;

/// Writes the bars of a song.
#[derive(Clone, Copy, Debug)]
pub(super) struct Writer {
    /// The song's meter.
    pub meter: Meter,
    /// The key it sounds in.
    pub key: Key,
    /// From the chords as they are read to the key it sounds in.
    pub sounding: Transposition,
    /// From the key it sounds in to the shapes that are written.
    pub shapes: Transposition,
    pub how: How,
}

impl Writer {
    /// A bar of a section. `before` is the chord that sounded before it, `None` where it begins anew.
    pub(super) fn bar(&self, bar: &ChartBar, before: Option<Option<Chord>>, sung: bool) -> Cell {
        let gait = bar.meter.gait(self.meter);
        let mut cell = Cell {
            width: (ratio(bar.meter.bar(), self.meter.bar())).max(NARROWEST),
            meter: (bar.meter != self.meter).then_some(bar.meter),
            eighths: eighths(bar.meter.bar()).max(1),
            chords: self.chords(&bar.chords, (gait, bar.meter.bar()), before),
            slashes: slashes(&bar.chords, gait),
            ..Cell::default()
        };
        let places = |shares: &[Share<bool>]| {
            placed(shares)
                .filter(|(_, _, sings)| *sings)
                .map(|(at, until, _)| (at, until))
                .collect()
        };
        if sung {
            cell.sung = places(&bar.singing);
        }
        cell.stops = stops(&bar.stops, gait);
        cell
    }

    /// What leads into a section.
    pub(super) fn pickup(&self, pickup: &Pickup, sung: bool) -> Cell {
        let share = [Share::new(pickup.length, pickup.chord)];
        let eighths = eighths(pickup.length).max(1);
        let chords = match pickup.chord {
            Some(_) => self.chords(&share, (self.meter, self.meter.bar()), None),
            None => Vec::new(),
        };
        let sung = if sung && pickup.sings { vec![(0, eighths)] } else { Vec::new() };
        Cell { is_pickup: true, width: PICKUP, eighths, chords, sung, ..Cell::default() }
    }

    fn chords(
        &self,
        shares: &[Share<Option<Chord>>],
        (gait, length): (Meter, Ticks),
        before: Option<Option<Chord>>,
    ) -> Vec<PlacedChord> {
        let place = |(index, (at, until, chord)): (usize, (u32, u32, Option<Chord>))| {
            let sounding = chord.map(|chord| self.sounding.chord(&chord));
            let name = || ChordText::name(sounding.map(|chord| self.shapes.chord(&chord)).as_ref());
            let number = || ChordText::number(sounding.as_ref(), self.key);
            let (text, under) = match self.how.chords {
                ChordsAs::Names => (name(), None),
                ChordsAs::Numbers => (number(), None),
                ChordsAs::Both => (name(), sounding.map(|_| number())),
            };
            PlacedChord {
                at,
                until,
                text,
                under,
                is_held: index == 0 && before == Some(chord),
                is_pushed: chord.is_some() && is_pushed(at, until, gait, length),
            }
        };
        placed(shares).enumerate().map(place).collect()
    }
}

/// True if what begins there comes an eighth ahead of a beat and lasts over it, as `perform` plays a push. What
/// lasts to the end of the bar may go on over the bar line.
fn is_pushed(at: u32, until: u32, meter: Meter, length: Ticks) -> bool {
    // In 2/4 chords change on the eighths between the beats as a matter of course.
    if meter == Meter::TwoFour {
        return false;
    }
    let beat = beat(meter);
    let target = at + 1;
    target.is_multiple_of(beat) && (until >= target + beat || until == eighths(length))
}

/// Shares with the eighths between which they lie.
fn placed<T: Copy>(shares: &[Share<T>]) -> impl Iterator<Item = (u32, u32, T)> {
    shares.iter().scan(Ticks::ZERO, |at, share| {
        let from = *at;
        *at += share.length;
        Some((eighths(from), eighths(*at), share.value))
    })
}

/// Where a chart writes `/`: on each beat on which a chord goes on, and nowhere if all shares are alike.
fn slashes(shares: &[Share<Option<Chord>>], meter: Meter) -> Vec<u32> {
    if shares.windows(2).all(|pair| matches!(pair, [one, other] if one.length == other.length)) {
        return Vec::new();
    }
    let beat = beat(meter);
    let held = |(at, until, _): (u32, u32, Option<Chord>)| {
        (at + 1..until).filter(move |at| at.is_multiple_of(beat))
    };
    placed(shares).flat_map(held).collect()
}

/// How many eighths are tapped as one.
const fn beat(meter: Meter) -> u32 {
    match meter {
        Meter::SixEight => 3,
        Meter::FourFour | Meter::TwoTwo | Meter::TwoFour | Meter::ThreeFour => 2,
    }
}

/// A hit or a hold where it stands, silence on every beat of it.
fn stops(shares: &[Share<Stop>], meter: Meter) -> Vec<StopMark> {
    let step = beat(meter);
    let marks = |(at, until, stop): (u32, u32, Stop)| -> Vec<StopMark> {
        match stop {
            Stop::PlayOn => Vec::new(),
            Stop::Hit | Stop::Hold => vec![StopMark { at, stop }],
            Stop::Silence => {
                let first = at.next_multiple_of(step);
                let first = if first < until { first } else { at };
                (first..until).step_by(step as usize).map(|at| StopMark { at, stop }).collect()
            }
        }
    };
    placed(shares).flat_map(marks).collect()
}

pub(super) fn eighths(ticks: Ticks) -> u32 {
    u32::try_from(ticks.get() / Ticks::EIGHTH.get()).unwrap_or(0)
}

fn ratio(one: Ticks, other: Ticks) -> f64 {
    one.get() as f64 / other.get().max(1) as f64
}
