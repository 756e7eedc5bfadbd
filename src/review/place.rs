//! Each stroke at its place in the song.

use super::TimingReference;
use super::lay::Laid;
use super::own_beat::OwnBeat;
use super::song_grid::SongGrid;
use super::trend::{median, trend};

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
    /// The same against the player's own beat, made up for what the stroke moved that.
    pub stray: f64,
    /// How much slower than the band the player's beat goes there, as a share.
    pub rate: f64,
    /// True if it was meant for the place and tells something about time: not between two, and not where the
    /// ending slows down.
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
    /// From which place on how many seconds of the song were left out; fewer than none where there were too many.
    pub lost: Vec<(usize, f64)>,
}

/// Puts strokes (seconds, in order) at their places.
pub(super) fn place(
    times: &[f64],
    grid: &SongGrid,
    beat: &OwnBeat,
    laid: &Laid,
    begins: Option<f64>,
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
    let points: Vec<(f64, f64)> = all
        .map(|(index, on)| (index, (on.time, on.offset - start)))
        .filter(|&(index, (time, offset))| time - offset + shift_at(index) < grid.slows)
        .map(|(_, point)| point)
        .collect();
    let course = trend(&points);
    let offsets: Vec<f64> = course.iter().map(|beat| beat.offset).collect();
    let middle = median(&offsets);
    let far = offsets.iter().map(|offset| (offset - middle).abs()).fold(0.0, f64::max);
    let against = match (far <= TOGETHER && laid.shifts.len() < 2, begins) {
        (false, _) => TimingReference::Own,
        (true, Some(_)) => TimingReference::Band,
        (true, None) => TimingReference::Fit,
    };
    let first = median(offsets.get(..offsets.len().min(8)).unwrap_or_default());
    let begins = begins.unwrap_or(if against == TimingReference::Own { first } else { middle });
    let mut strokes = Vec::with_capacity(times.len());
    let mut next = 0;
    for (stroke, &time) in times.iter().enumerate() {
        while points.get(next + 1).is_some_and(|point| point.0 <= time) {
            next += 1;
        }
        let Some(beat) = course.get(next) else { continue };
        let at = points.get(next).map_or(time, |point| point.0);
        // Between strokes that tell, and for a little after, the beat goes on as it went.
        let own = beat.offset - shift_at(next) + beat.rate * (time - at).clamp(-1.0, 1.0);
        let Some((index, spot)) = grid.nearest(time - own) else { continue };
        let room = grid.room(index);
        let off = time - own - spot.time;
        // What lies further outside is before or after the song.
        if off.abs() > room {
            continue;
        }
        let late = if against == TimingReference::Own { off } else { time - begins - spot.time };
        let tells = spot.steady && off.abs() <= MEANT * room;
        // Of a few strokes the beat is what they make it, and what they stray from it says little.
        let stray = off / beat.left.max(0.2).sqrt();
        strokes.push(Placed { stroke, spot: index, late, stray, rate: beat.rate, tells });
    }
    let mut lost = Vec::new();
    for (before, (from, shift)) in laid.shifts.iter().zip(laid.shifts.iter().skip(1)) {
        let at = points.get(*from).map_or(f64::INFINITY, |point| point.0);
        let stroke = times.partition_point(|time| *time < at);
        let there = strokes.iter().find(|placed: &&Placed| placed.stroke >= stroke);
        lost.extend(there.map(|placed| (placed.spot, shift - before.1)));
    }
    Placing { strokes, begins, against, lost }
}
