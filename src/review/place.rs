//! Each stroke at its place in the song.

use super::TimingReference;
use super::lay::Laid;
use super::noticed::RUSHING;
use super::own_beat::OwnBeat;
use super::song_grid::SongGrid;
use super::trend::{Beat, median, trend};
use crate::coverage::{BeatPart, Job};

/// How far the beat of somebody who hears the band goes off from it, in seconds: a stroke further off is heard as
/// another place in the bar (common practice, no source).
const TOGETHER: f64 = 0.12;

/// How far from its place a stroke may be and still be meant for it, as a share of the way to the next.
const MEANT: f64 = 0.42;

/// A stroke at its place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    /// Which stroke of the take.
    pub stroke: usize,
    /// Which place of the song.
    pub spot: usize,
    /// Seconds after the place, as [`TimingReference`] has it.
    pub late: f64,
    /// The same, but for the player's own swing.
    pub beside: f64,
    /// Seconds after where the player's own beat and swing have it, made up for what the stroke moved that.
    pub stray: f64,
    /// How much slower than the band the player's beat goes there, as a share.
    pub rate: f64,
    /// True if it was meant for the place and tells something about time: not between two, not beside another that is
    /// nearer, and not where the ending slows down.
    pub tells: bool,
}

/// All strokes at their places.
#[derive(Clone, Debug)]
pub(super) struct Placing {
    /// Those within the song, in order.
    pub strokes: Vec<Placed>,
    /// Where the song's first beat lies in the take, in seconds.
    pub begins: f64,
    /// What early and late are told against.
    pub against: TimingReference,
    /// By how many seconds the player's second eighths come after the song's; `None` where there are too few to tell.
    pub swing: Option<f64>,
    /// By how many seconds the strokes of fills come after the player's own beat.
    pub fills: Vec<f64>,
    /// From which place on how many seconds of the song were left out; fewer than none where there were too many.
    pub lost: Vec<(usize, f64)>,
}

/// A stroke that tells of the beat.
#[derive(Clone, Copy, Debug)]
struct Point {
    stroke: usize,
    time: f64,
    offset: f64,
    /// What was lost by then.
    shift: f64,
}

/// Puts strokes (seconds, in order) at their places. `swings` is false in meters that have no pairs.
pub(super) fn place(
    times: &[f64],
    grid: &SongGrid,
    beat: &OwnBeat,
    laid: &Laid,
    begins: Option<f64>,
    swings: bool,
) -> Placing {
    // Where the song's first beat would lie if all were played at the player's own beat of the moment; lost beats
    // do not move that.
    let start = laid.shifts.first().map_or(0.0, |(_, shift)| *shift);
    let shift_at = |index: usize| {
        let begun = laid.shifts.partition_point(|(from, _)| *from <= index);
        let last = begun.checked_sub(1).and_then(|last| laid.shifts.get(last));
        last.map_or(start, |(_, shift)| *shift) - start
    };
    let all = beat.strokes.iter().enumerate();
    let mut points: Vec<Point> = all
        .map(|(index, on)| Point {
            stroke: on.stroke,
            time: on.time,
            offset: on.offset - start,
            shift: shift_at(index),
        })
        .filter(|point| point.time - point.offset + point.shift < grid.slows)
        .collect();
    let at_first = along(times, grid, &points);
    let swing = at_first_swing(&at_first, grid).filter(|_| swings);
    // Again, with what is known now: fills may be pushed, and the second eighths lie where the player has them.
    let spot_of = |point: &Point| {
        let index = at_first.binary_search_by_key(&point.stroke, |along| along.stroke).ok()?;
        at_first.get(index)
    };
    for point in &mut points {
        let and = spot_of(point).and_then(|along| grid.spots.get(along.spot));
        if and.is_some_and(|spot| spot.place == BeatPart::And) {
            point.offset -= swing.unwrap_or(0.0);
        }
    }
    let steady: Vec<Point> = points
        .iter()
        .copied()
        .filter(|point| {
            spot_of(point).is_some_and(|along| along.tells && !is_fill(grid, along.spot))
        })
        .collect();
    if steady.len() >= ENOUGH && steady.len() * 3 >= points.len() {
        points = steady;
    }
    let own_grid = grid.swung_by(swing.unwrap_or(0.0));
    let placed = along(times, &own_grid, &points);
    let offsets: Vec<f64> = Course::of(&points).beats.iter().map(|beat| beat.offset).collect();
    let middle = median(&offsets);
    let far = offsets.iter().map(|offset| (offset - middle).abs()).fold(0.0, f64::max);
    let against = match (far <= TOGETHER && laid.shifts.len() < 2, begins) {
        (false, _) => TimingReference::Own,
        (true, Some(_)) => TimingReference::Band,
        (true, None) => TimingReference::Fit,
    };
    let first = median(offsets.get(..offsets.len().min(8)).unwrap_or_default());
    let begins = begins.unwrap_or(if against == TimingReference::Own { first } else { middle });
    let lag = |along: &Along| {
        let and = grid.spots.get(along.spot).is_some_and(|spot| spot.place == BeatPart::And);
        if and { swing.unwrap_or(0.0) } else { 0.0 }
    };
    let strokes: Vec<Placed> = placed
        .iter()
        .map(|along| {
            let beside = if against == TimingReference::Own {
                along.off
            } else {
                along.time - begins - along.spot_time
            };
            Placed {
                stroke: along.stroke,
                spot: along.spot,
                late: beside + lag(along),
                beside,
                // Of a few strokes the beat is what they make it, and what they stray from it says little.
                stray: along.off / along.left.max(0.2).sqrt(),
                rate: along.rate,
                tells: along.tells,
            }
        })
        .collect();
    let fills = placed.iter().filter(|along| along.tells && is_fill(grid, along.spot));
    let fills = fills.map(|along| along.off).collect();
    let mut lost = Vec::new();
    for (before, (from, shift)) in laid.shifts.iter().zip(laid.shifts.iter().skip(1)) {
        let at = beat.strokes.get(*from).map_or(f64::INFINITY, |on| on.time);
        let stroke = times.partition_point(|time| *time < at);
        let there = strokes.iter().find(|placed: &&Placed| placed.stroke >= stroke);
        // Whose beat goes off from the band's comes back beside it after a rest, and has lost nothing.
        let near =
            times.get(stroke.saturating_sub(FOUND_AGAIN)..(stroke + FOUND_AGAIN).min(times.len()));
        let rests = near.unwrap_or_default().windows(2).any(|pair| match pair {
            [one, other] => other - one > REST,
            _ => false,
        });
        let off = there.is_some_and(|placed| placed.rate.abs() > RUSHING / 100.0);
        let there = there.filter(|_| !(off && rests));
        lost.extend(there.map(|placed| (placed.spot, shift - before.1)));
    }
    Placing { strokes, begins, against, swing, fills, lost }
}

/// So many seconds without a stroke are a rest.
const REST: f64 = 4.0;

/// After a rest it may take so many strokes until the beat is found again.
const FOUND_AGAIN: usize = 16;

/// The fewest strokes of a kind that tell something of it.
const ENOUGH: usize = 8;

fn is_fill(grid: &SongGrid, spot: usize) -> bool {
    grid.spots.get(spot).is_some_and(|spot| spot.job == Job::Fill)
}

/// How far from the song's place a second eighth may lie that is swung otherwise, as a share of the way to the next: an
/// even one lies in the middle where the song has two to one.
const STRAIGHT: f64 = 0.6;

/// How far the second eighths come after the others, against the song's.
fn at_first_swing(strokes: &[Along], grid: &SongGrid) -> Option<f64> {
    // Who vamps has second eighths in the fills alone; a pushed fill has all of it pushed.
    swing_in(strokes, grid, false).or_else(|| swing_in(strokes, grid, true))
}

/// The same, in the fills or elsewhere.
fn swing_in(strokes: &[Along], grid: &SongGrid, fills: bool) -> Option<f64> {
    let of = |and: bool| -> Vec<f64> {
        strokes
            .iter()
            .filter(|along| along.off.abs() <= STRAIGHT * grid.room(along.spot))
            .filter(|along| is_fill(grid, along.spot) == fills)
            .filter(|along| {
                let place = grid.spots.get(along.spot).map(|spot| spot.place);
                place.is_some_and(|place| (place == BeatPart::And) == and)
            })
            .map(|along| along.off)
            .collect()
    };
    let (ands, beats) = (of(true), of(false));
    (ands.len() >= ENOUGH && beats.len() >= ENOUGH).then(|| median(&ands) - median(&beats))
}

/// A stroke on the way of the player's own beat.
#[derive(Clone, Copy, Debug)]
struct Along {
    stroke: usize,
    time: f64,
    spot: usize,
    spot_time: f64,
    /// Seconds after where the own beat has its place.
    off: f64,
    rate: f64,
    left: f64,
    tells: bool,
}

/// Every stroke at the place where the player's own beat has it.
fn along(times: &[f64], grid: &SongGrid, points: &[Point]) -> Vec<Along> {
    let mut course = Course::of(points);
    let mut out: Vec<Along> = Vec::with_capacity(times.len());
    for (stroke, &time) in times.iter().enumerate() {
        let Some((own, beat)) = course.at(time) else { continue };
        let Some((spot, there)) = grid.nearest(time - own) else { continue };
        let room = grid.room(spot);
        let off = time - own - there.time;
        // What lies further outside is before or after the song.
        if off.abs() > room {
            continue;
        }
        let mut tells = there.steady && off.abs() <= MEANT * room;
        // One stroke is meant for a place: the nearest; of a slur the pick.
        if let Some(last) = out.last_mut().filter(|last| last.spot == spot && last.tells && tells) {
            let nearer = off.abs() < last.off.abs();
            (last.tells, tells) = (!nearer, nearer);
        }
        let (rate, left) = (beat.rate, beat.left);
        out.push(Along { stroke, time, spot, spot_time: there.time, off, rate, left, tells });
    }
    out
}

/// Where the player's own beat lies, as it goes along.
struct Course<'a> {
    points: &'a [Point],
    beats: Vec<Beat>,
    next: usize,
}

impl<'a> Course<'a> {
    fn of(points: &'a [Point]) -> Self {
        let plain: Vec<(f64, f64)> =
            points.iter().map(|point| (point.time, point.offset)).collect();
        Self { points, beats: trend(&plain), next: 0 }
    }

    /// How far the grid lies from the song's at a time, no earlier than the last that was asked for, and the beat near
    /// it. Between strokes that tell, and for a little after, it goes on as it went.
    fn at(&mut self, time: f64) -> Option<(f64, Beat)> {
        while self.points.get(self.next + 1).is_some_and(|point| point.time <= time) {
            self.next += 1;
        }
        let (point, beat) = (self.points.get(self.next)?, *self.beats.get(self.next)?);
        let on = |point: &Point, beat: Beat, time: f64| {
            beat.offset - point.shift + beat.rate * (time - point.time).clamp(-1.0, 1.0)
        };
        let here = on(point, beat, time);
        let after = self.points.get(self.next + 1).zip(self.beats.get(self.next + 1));
        let between = after.filter(|(after, _)| after.shift == point.shift && time > point.time);
        let Some((after, next)) = between else { return Some((here, beat)) };
        let share = (time - point.time) / (after.time - point.time).max(1e-9);
        Some((here * (1.0 - share) + on(after, *next, time) * share, beat))
    }
}
