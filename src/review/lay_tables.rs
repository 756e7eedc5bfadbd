//! A take and a song by units of their grids, to be held against each other at any place.

use super::Tone;
use super::harmony::{Around, Harmony};
use super::own_beat::{EARLY, OwnBeat, Period};
use super::song_grid::{SongGrid, Spot};
use crate::arrange::Arrangement;
use crate::coverage::{BeatPart, Coverage, Job};
use crate::take::Hit;
use crate::theory::MidiNote;
use crate::time::{Meter, Tempo, Ticks};

/// What a stroke in an open place counts, beside a note of the chord, which counts 1.
const FILLS: f64 = 0.4;

/// What an open place costs that stays empty: of two passes with the same chords the one is meant whose job it was.
const EMPTY: f64 = 0.2;

/// The grid of a song, as a repeating period.
#[derive(Clone, Copy, Debug)]
pub(super) struct Unit {
    /// In ticks of the even grid.
    pub ticks: Ticks,
    /// In seconds.
    pub period: Period,
}

impl Unit {
    /// Of a song at a tempo that swings so.
    pub(super) fn new(pair: Ticks, share: f64, tempo: Tempo) -> Self {
        /// Nearer to even than this, nobody tells the two notes of a pair apart by when they are.
        const EVEN: f64 = 0.52;
        let ticks = if share < EVEN { Ticks::new(pair.get() / 2) } else { pair };
        let length = tempo.nanos(ticks).seconds();
        let second = (share >= EVEN).then_some(length * share);
        Self { ticks, period: Period { length, second } }
    }

    /// How many of them make what a player may lose or win at once: a quarter, a beat where that is no multiple
    /// of one.
    pub(super) fn beat(self, meter: Meter) -> i64 {
        let beat = match meter {
            Meter::SixEight => meter.beat(),
            Meter::TwoFour => Ticks::EIGHTH,
            Meter::FourFour | Meter::TwoTwo | Meter::ThreeFour => Ticks::QUARTER,
        };
        (beat.get() / self.ticks.get().max(1)).max(1)
    }
}

/// What a stroke at a place counts, by what the player's job is there.
pub(super) fn expected(job: Option<Job>, spot: &Spot) -> f64 {
    match job {
        _ if spot.open => FILLS,
        Some(Job::Rest) => -FILLS,
        // Here most is played.
        Some(Job::Fill | Job::Lead) => FILLS / 2.0,
        // Who plays next to nothing strikes the backbeats, if anything.
        Some(Job::Sparse) if spot.place != BeatPart::Back => -FILLS / 4.0,
        _ => 0.0,
    }
}

/// A place where the take might lie.
#[derive(Clone, Copy, Debug)]
pub(super) struct Candidate {
    pub shift: i64,
    pub score: f64,
    pub fit: f64,
    pub known: usize,
}

/// The song by units.
pub(super) struct SongTable<'a> {
    pub harmony: Harmony<'a>,
    /// Each unit, and what it has of `harmonies`.
    pub units: Vec<SongUnit>,
    /// What each note, from C on, is to them.
    pub harmonies: Vec<[Tone; 12]>,
    /// How many units a bar has.
    bar: i64,
    /// How many places are open before each unit, and in all.
    pub open: Vec<u32>,
}

#[derive(Clone, Copy)]
pub(super) struct SongUnit {
    pub harmony: Option<usize>,
    /// What a stroke on the first place counts, and on the second.
    pub fills: [f64; 2],
}

impl<'a> SongTable<'a> {
    pub(super) fn new(
        song: &'a Arrangement,
        grid: &SongGrid,
        coverage: &Coverage,
        unit: Unit,
    ) -> Self {
        let harmony = Harmony::new(song);
        let length = (song.end - song.start).get();
        let count = length.div_euclid(unit.ticks.get().max(1));
        let mut different: Vec<Around<'_>> = Vec::new();
        let mut spots = grid.spots.iter().peekable();
        let units: Vec<SongUnit> = (0..count)
            .map(|index| {
                let at = song.start + unit.ticks * index;
                let id = harmony.at(at).map(|around| {
                    different.iter().position(|other| *other == around).unwrap_or_else(|| {
                        different.push(around);
                        different.len() - 1
                    })
                });
                let mut fills = [0.0; 2];
                while let Some(spot) = spots.next_if(|spot| spot.at < at + unit.ticks) {
                    let half = usize::from((spot.at - at).get() * 2 >= unit.ticks.get());
                    let job = coverage.bars.get(spot.bar).map(|bar| bar.job);
                    let value = expected(job, spot);
                    if let Some(fill) = fills.get_mut(half) {
                        *fill = value;
                    }
                }
                SongUnit { harmony: id, fills }
            })
            .collect();
        let tones = |&around: &Around<'_>| {
            let mut class = 0;
            [(); 12].map(|()| {
                class += 1;
                harmony.class(around, class - 1)
            })
        };
        let harmonies = different.iter().map(tones).collect();
        let mut open = vec![0];
        for unit in &units {
            let here = unit.fills.iter().filter(|fill| **fill >= FILLS).count() as u32;
            open.push(open.last().copied().unwrap_or(0) + here);
        }
        let bar = song.meter.bar().get() / unit.ticks.get().max(1);
        Self { harmony, units, harmonies, bar, open }
    }

    /// How many places are open from one unit to another.
    pub(super) fn open_between(&self, first: i64, last: i64) -> f64 {
        let before = |unit: i64| {
            let at = usize::try_from(unit.max(0)).unwrap_or(usize::MAX);
            self.open.get(at.min(self.open.len().saturating_sub(1))).copied().unwrap_or(0)
        };
        f64::from(before(last.saturating_add(1)).saturating_sub(before(first)))
    }

    /// How well the take lies so many units into the song, by every so-many-th of its units.
    pub(super) fn score(&self, take: &TakeTable, shift: i64, every: usize) -> Candidate {
        let (mut sum, mut fitting, mut filled) = (0.0, 0.0, 0.0);
        let units = take.units.len().max(1);
        for unit in take.units.iter().step_by(every) {
            let (value, fits, fills) = self.value(unit, shift);
            sum += value;
            fitting += fits;
            filled += fills;
        }
        let share = units.div_ceil(every) as f64 / units as f64;
        let all = take.strokes.max(1) as f64 * share;
        let known = take.known.max(1) as f64 * share;
        let fit = fitting / known;
        // The places that are open where it plays, of which it leaves some empty.
        let runs = take.runs.iter();
        let open: f64 = runs
            .map(|&(from, to)| {
                self.open_between(from.saturating_add(shift), to.saturating_add(shift))
            })
            .sum();
        sum -= EMPTY * (open * share - filled).max(0.0);
        Candidate { shift, score: sum / all, fit, known: take.known }
    }

    /// What one unit of the take counts there, how many of its notes fit, and how many open places it fills.
    pub(super) fn value(&self, unit: &TakeUnit, shift: i64) -> (f64, f64, f64) {
        let at = usize::try_from(unit.count.saturating_add(shift)).ok();
        let [first, second] = unit.strokes.map(f64::from);
        let Some(here) = at.and_then(|at| self.units.get(at)) else {
            // Outside of the song nobody plays.
            return (-first - second, 0.0, 0.0);
        };
        let tones = here.harmony.and_then(|id| unit.tones.get(id));
        let (value, fits) = tones.copied().unwrap_or_default();
        let [fill, fill_second] = here.fills;
        let filled = |strokes: f64, fill: f64| f64::from(u8::from(strokes > 0.0 && fill >= FILLS));
        let filled = filled(first, fill) + filled(second, fill_second);
        (value + first * fill + second * fill_second, fits, filled)
    }
}

/// The take by units of its own grid.
pub(super) struct TakeTable {
    pub units: Vec<TakeUnit>,
    /// From where to where it plays without a rest of more than a bar.
    pub runs: Vec<(i64, i64)>,
    pub first: i64,
    pub last: i64,
    /// Where the first stroke is, in half units.
    pub entry: i64,
    /// When the last of its first strokes is.
    pub early: f64,
    pub strokes: usize,
    pub known: usize,
}

pub(super) struct TakeUnit {
    pub count: i64,
    /// The first of its strokes, in [`OwnBeat::strokes`].
    pub first: usize,
    pub strokes: [u16; 2],
    /// For each of the song's harmonies: what the notes here would count, and how many would fit.
    pub tones: Vec<(f64, f64)>,
}

impl TakeTable {
    pub(super) fn new(beat: &OwnBeat, hits: &[&Hit], song: &SongTable<'_>) -> Self {
        let mut units: Vec<TakeUnit> = Vec::new();
        let mut known = 0;
        for (index, stroke) in beat.strokes.iter().enumerate() {
            if units.last().is_none_or(|unit| unit.count != stroke.count) {
                let tones = vec![(0.0, 0.0); song.harmonies.len()];
                units.push(TakeUnit { count: stroke.count, first: index, strokes: [0, 0], tones });
            }
            let pitches = hits.get(stroke.stroke).map_or(&[][..], |hit| hit.pitches.as_slice());
            let Some(unit) = units.last_mut() else { continue };
            let half = usize::from(stroke.second);
            if let Some(count) = unit.strokes.get_mut(half) {
                *count = count.saturating_add(1);
            }
            known += usize::from(pitches.iter().any(|&pitch| !song.harmony.is_drone(pitch)));
            unit.add(pitches, song);
        }
        // Who rests for longer than a bar rests on purpose.
        let runs = units.chunk_by(|one, next| next.count - one.count <= song.bar);
        let ends = |run: &[TakeUnit]| Some((run.first()?.count, run.last()?.count));
        let runs: Vec<(i64, i64)> = runs.filter_map(ends).collect();
        let first = units.first().map_or(0, |unit| unit.count);
        let last = units.last().map_or(0, |unit| unit.count);
        let early = beat.strokes.iter().take(EARLY).next_back().map_or(0.0, |stroke| stroke.time);
        let entry = beat.strokes.first();
        let entry = entry.map_or(0, |on| 2 * on.count + i64::from(on.second));
        Self { units, runs, first, last, entry, early, strokes: hits.len(), known }
    }

    /// Where its units are.
    pub(super) fn counts(&self) -> Vec<i64> {
        self.units.iter().map(|unit| unit.count).collect()
    }

    /// All ways in which the take and a song of so many units overlap, but for a take that begins longer before
    /// the song than that lasts.
    pub(super) fn shifts(&self, units: usize) -> std::ops::RangeInclusive<i64> {
        let units = i64::try_from(units).unwrap_or(0);
        let before = self.last.saturating_sub(self.first).min(units);
        -self.first - before..=units - 1 - self.first
    }
}

impl TakeUnit {
    pub(super) fn add(&mut self, pitches: &[MidiNote], song: &SongTable<'_>) {
        let heard = pitches.iter().filter(|&&pitch| !song.harmony.is_drone(pitch)).count();
        let share = 1.0 / heard.max(1) as f64;
        for (tones, (value, fits)) in song.harmonies.iter().zip(&mut self.tones) {
            for &pitch in pitches.iter().filter(|&&pitch| !song.harmony.is_drone(pitch)) {
                let tone = tones.get(usize::from(pitch.pitch_class())).copied();
                let (counts, belongs) = match tone.unwrap_or(Tone::Unknown) {
                    Tone::Chord => (1.0, 1.0),
                    Tone::Sixth => (0.4, 1.0),
                    Tone::Anticipation => (0.3, 1.0),
                    Tone::Outside | Tone::Unknown => (-1.0, 0.0),
                };
                *value += share * counts;
                *fits += share * belongs;
            }
        }
    }
}
