//! The beat that a take has by itself: its strokes laid on a grid of their own that is carried along with
//! them. Where in the song that is, is another question.

use super::kalman::Follower;
use super::trend::median;

/// How far from the tempo asked for a player's beat may lie to be looked for, as a share.
pub(super) const WIDEST: f64 = 0.045;

/// So many of its first strokes tell where a take begins.
pub(super) const EARLY: usize = 8;

/// How finely tempos are tried: over half of [`WINDOW`] the last stroke strays by a tenth of a short step.
const FINE: f64 = 0.003;

/// How long a stretch of the take is in which the beat is looked for first, in seconds.
const WINDOW: f64 = 8.0;

/// Into how many phases a period is divided in looking for the beat.
const PHASES: usize = 32;

/// A grid that repeats: a period, and where in it strokes fall. One place if the music is even, two if it swings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Period {
    /// Its length in seconds.
    pub length: f64,
    /// Where the second place lies, in seconds, if there is one.
    pub second: Option<f64>,
}

impl Period {
    /// How far a time is past the nearest place, and which that is: periods from 0, and true for the
    /// second place of one.
    fn nearest(self, time: f64) -> (f64, i64, bool) {
        let whole = (time / self.length).floor();
        let rest = time - whole * self.length;
        let whole = whole as i64;
        let mut best = (rest, whole, false);
        if rest > self.length / 2.0 {
            best = (rest - self.length, whole + 1, false);
        }
        if let Some(second) = self.second
            && (rest - second).abs() < best.0.abs()
        {
            best = (rest - second, whole, true);
        }
        best
    }

    /// The least distance of two places.
    fn gap(self) -> f64 {
        self.second.map_or(self.length, |second| second.min(self.length - second))
    }

    /// When a place is.
    pub(super) fn time(self, count: i64, second: bool) -> f64 {
        count as f64 * self.length + if second { self.second.unwrap_or(0.0) } else { 0.0 }
    }

    /// The same at another tempo: `stretch` times as long.
    fn stretched(self, stretch: f64) -> Self {
        Self { length: self.length * stretch, second: self.second.map(|at| at * stretch) }
    }
}

/// A stroke on the take's own grid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct OnBeat {
    /// Which stroke.
    pub stroke: usize,
    /// When it is, in seconds.
    pub time: f64,
    /// The period, counted from any.
    pub count: i64,
    /// True for the second place of the period.
    pub second: bool,
    /// The time of the stroke less that of its place at the tempo asked for: where the grid lies, and how
    /// far it has drifted by then.
    pub offset: f64,
}

/// The strokes on a grid of their own.
#[derive(Clone, Debug)]
pub(super) struct OwnBeat {
    /// Those that lie near a place of it, in order.
    pub strokes: Vec<OnBeat>,
    /// How well they do: 0 for strokes at random, 1 for a machine.
    pub firm: f64,
}

impl OwnBeat {
    /// Where time 0 of its grid lies in the take, as far as the first strokes tell: at the first of them. A beat that
    /// drags or rushes from the beginning on may have gone off by half a place after eight.
    pub(super) fn begins(&self) -> f64 {
        let middle = |strokes: &[OnBeat]| {
            let of = |value: fn(&OnBeat) -> f64| {
                median(&strokes.iter().map(value).collect::<Vec<f64>>())
            };
            (of(|on| on.time), of(|on| on.offset))
        };
        let (first, rest) = self.strokes.split_at(self.strokes.len().min(EARLY));
        let (time, offset) = middle(first);
        let next = rest.get(..EARLY).map(middle);
        let rate = next.map_or(0.0, |(later, gone)| (gone - offset) / (later - time).max(1e-3));
        let since = time - first.first().map_or(time, |on| on.time);
        offset - rate.clamp(-WIDEST, WIDEST) * since
    }

    /// True if most strokes that both have are firsts in one and seconds in the other: a beat that was lost may be met
    /// again where another one was all along.
    fn is_otherwise(&self, other: &Self) -> bool {
        let mut theirs = other.strokes.iter().peekable();
        let (mut both, mut differ) = (0_usize, 0_usize);
        for own in &self.strokes {
            while theirs.next_if(|on| on.stroke < own.stroke).is_some() {}
            if let Some(on) = theirs.peek().filter(|on| on.stroke == own.stroke) {
                both += 1;
                differ += usize::from(on.second != own.second);
            }
        }
        differ * 2 > both
    }

    /// True if a stroke has another place here than there.
    fn counts_otherwise(&self, other: &Self) -> bool {
        let place = |on: &OnBeat| (on.stroke, on.count, on.second);
        !self.strokes.iter().map(place).eq(other.strokes.iter().map(place))
    }
}

/// Of two strokes nearer to each other than this share of the grid's shortest step the second is no stroke in
/// time: it is the left hand's, a slide or a hammer-on that follows the pick.
const FOLLOWS: f64 = 0.45;

/// Finds the beat of strokes (seconds, in order), which is about that of `period`, as the song swings and, where that
/// is far from it, as it would be played straight. Where the strokes fit with firsts and seconds of the period
/// exchanged as well, both ways are given; and where it counts otherwise, that of somebody who goes on in an own beat
/// through long rests. Even music in which somebody swings is told by pairs, if `swings`.
pub(super) fn own_beats(times: &[f64], period: Period, swings: bool) -> Vec<OwnBeat> {
    let mut picked: Vec<usize> = Vec::with_capacity(times.len());
    for (stroke, &time) in times.iter().enumerate() {
        let before = picked.last().and_then(|&last| times.get(last));
        if before.is_none_or(|before| time - before >= FOLLOWS * period.gap()) {
            picked.push(stroke);
        }
    }
    let alone: Vec<f64> = picked.iter().filter_map(|&stroke| times.get(stroke).copied()).collect();
    let mut found = own_beat(&alone, period);
    let straight = Period { second: Some(period.length / 2.0), ..period };
    if period.second.is_some_and(|second| second / period.length >= HARD) {
        // Told against where the song has its seconds, as all are.
        let sooner = straight.second.unwrap_or(0.0) - period.second.unwrap_or(0.0);
        let mut even = own_beat(&alone, straight);
        for on in even.iter_mut().flat_map(|beat| &mut beat.strokes).filter(|on| on.second) {
            on.offset += sooner;
        }
        found.extend(even);
    }
    let unclear = found.first().is_some_and(|first| first.firm < CLEAR);
    if swings && period.second.is_none() && unclear {
        let (length, second) = (2.0 * period.length, 2.0 * period.length * SWUNG);
        let mut swung = own_beat(&alone, Period { length, second: Some(second) });
        for on in swung.iter_mut().flat_map(|beat| &mut beat.strokes) {
            on.count = 2 * on.count + i64::from(on.second);
            on.offset += if on.second { second - period.length } else { 0.0 };
            on.second = false;
        }
        found.extend(swung);
    }
    for on in found.iter_mut().flat_map(|beat| &mut beat.strokes) {
        on.stroke = picked.get(on.stroke).copied().unwrap_or(on.stroke);
    }
    found
}

/// From this share of a pair on, straight eighths lie too far from the swung ones to be taken for them.
const HARD: f64 = 0.6;

/// Below this the beat of even music is unclear enough to be looked for in pairs, of which the first note takes so large
/// a share.
const CLEAR: f64 = 0.5;
const SWUNG: f64 = 0.64;

/// The same for one period and strokes that are all picked.
fn own_beat(times: &[f64], period: Period) -> Vec<OwnBeat> {
    let Some(start) = best_start(times, period, (-15..=15).map(|step| f64::from(step) * FINE))
    else {
        return Vec::new();
    };
    let with_band =
        |start: Start, origin| Follower::new(origin, start.phase - origin, start.stretch - 1.0);
    let mut found = vec![follow(times, period, start, with_band)];
    if let Some(second) = period.second {
        let other = Start { phase: start.phase - second * start.stretch, ..start };
        let exchanged = follow(times, period, other, with_band);
        let first = found.first();
        if exchanged.firm > first.map_or(0.0, |first| first.firm) * 0.9
            && first.is_some_and(|first| exchanged.is_otherwise(first))
        {
            found.push(exchanged);
        }
    }
    let pairs = times.iter().zip(times.iter().skip(1));
    if pairs.into_iter().any(|(one, next)| next - one > Follower::MEMORY) {
        let alone = follow(times, period, start, |start, origin| with_band(start, origin).alone());
        if found.iter().all(|other| alone.counts_otherwise(other)) {
            found.push(alone);
        }
    }
    found
}

/// How many times as long a beat is that fits the strokes better than those about `period`; `None` if there
/// is none clearly better within a factor of 1.6.
pub(super) fn other_beat(times: &[f64], period: Period) -> Option<f64> {
    let steps = |from: f64, to: f64| {
        let count = ((to - from) / FINE) as i32;
        (0..=count).map(move |step| from + f64::from(step) * FINE)
    };
    let asked = best_start(times, period, steps(-WIDEST, WIDEST))?;
    let slower = best_start(times, period, steps(WIDEST, 0.6))?;
    let faster = best_start(times, period, steps(-0.375, -WIDEST))?;
    let best = if slower.fit > faster.fit { slower } else { faster };
    (best.fit > asked.fit + 0.2).then_some(best.stretch)
}

/// How well strokes fit a period `stretch` times as long, wherever it begins, 1 at best: the mean of some places of the
/// take, each by itself.
pub(super) fn firmness(times: &[f64], period: Period, stretch: f64) -> f64 {
    /// So many places are looked at, and so many strokes of each.
    const LOOKS: usize = 6;
    const STROKES: usize = 32;
    let period = period.stretched(stretch);
    let hop = times.len().div_ceil(LOOKS).max(1);
    let looks = (0..times.len()).step_by(hop).filter_map(|first| {
        let rest = times.get(first..)?;
        let strokes = rest.get(..STROKES.min(rest.len()))?;
        let from = *strokes.first()?;
        // A player's own beat goes off from any other before long.
        let count = strokes.partition_point(|time| time - from <= WINDOW * stretch.max(1.0));
        let strokes = strokes.get(..count)?;
        (count >= 6).then(|| best_phase(strokes, from, period).1)
    });
    let fits: Vec<f64> = looks.collect();
    super::trend::mean(&fits)
}

/// Where following begins.
#[derive(Clone, Copy, Debug)]
struct Start {
    /// The stroke.
    stroke: usize,
    /// When a period begins near it.
    phase: f64,
    /// The length of a period there, as a multiple of what was asked for.
    stretch: f64,
    /// How well that fits, up to 1.
    fit: f64,
}

/// The stretch of the take where the beat is plainest, and the beat there.
fn best_start(
    times: &[f64],
    period: Period,
    stretches: impl Iterator<Item = f64> + Clone,
) -> Option<Start> {
    /// So many places in the take are looked at: more tell nothing new.
    const LOOKS: usize = 8;
    /// So many strokes of each at most: in a fast roll they are enough.
    const STROKES: usize = 40;
    let hop = times.len().div_ceil(LOOKS).max(1);
    let mut best: Option<Start> = None;
    for first in (0..times.len()).step_by(hop) {
        let Some(rest) = times.get(first..) else { continue };
        let from = rest.first().copied().unwrap_or(0.0);
        let count = rest.partition_point(|time| time - from <= WINDOW).min(STROKES);
        let strokes = rest.get(..count).unwrap_or_default();
        // The first ones alone would fit any beat.
        if count < 6 && first > 0 {
            continue;
        }
        let middle = strokes.get(count / 2).copied().unwrap_or(from);
        for stretch in stretches.clone() {
            let (phase, fit) = best_phase(strokes, middle, period.stretched(1.0 + stretch));
            // Of two that fit as well, the one nearer to what was asked for, and the one with more strokes.
            let fit = fit * (1.0 - 1.0 / (count as f64 + 1.0)) - stretch.abs() * 0.1;
            if best.is_none_or(|best| fit > best.fit) {
                best = Some(Start {
                    stroke: first + count / 2,
                    phase: middle + phase,
                    stretch: 1.0 + stretch,
                    fit,
                });
            }
        }
    }
    best
}

/// The phase, from `middle` on, in which strokes lie nearest to the places of a period, and how near: 1 for
/// all on it, 0 for strokes at random.
fn best_phase(strokes: &[f64], middle: f64, period: Period) -> (f64, f64) {
    // Within this of a place a stroke counts, the more the nearer.
    let near = period.gap() * 0.5;
    let mut best = (0.0, f64::NEG_INFINITY);
    for step in 0..PHASES {
        let phase = step as f64 / PHASES as f64 * period.length;
        let sum: f64 = strokes
            .iter()
            .map(|time| {
                let off = period.nearest(time - middle - phase).0 / near;
                (1.0 - off * off).max(0.0).powi(2)
            })
            .sum();
        if sum > best.1 {
            best = (phase, sum);
        }
    }
    // The mean of the kernel over a gap.
    const AT_RANDOM: f64 = 8.0 / 15.0;
    let fit = best.1 / strokes.len().max(1) as f64;
    (best.0, (fit - AT_RANDOM) / (1.0 - AT_RANDOM))
}

/// A stroke between two places counts two, one on a place takes one off; from so many on the beat is lost, and is looked
/// for anew in so many strokes.
const LOST: usize = 10;
const AGAIN: usize = 24;

/// Moves a beat that was lost to where it lies in the strokes that come; false if it is nowhere plainer.
fn meet_again(follower: &mut Follower, period: Period, origin: f64, ahead: &[f64]) -> bool {
    /// How much plainer it must be there.
    const PLAINER: f64 = 0.2;
    let near = period.gap() * 0.5;
    let fit = |moved: f64| -> f64 {
        let one = |time: &f64| {
            let off = period.nearest(time - origin - follower.at(*time) - moved).0 / near;
            (1.0 - off * off).max(0.0).powi(2)
        };
        ahead.iter().map(one).sum::<f64>() / ahead.len().max(1) as f64
    };
    let half = PHASES as i32 / 2;
    // Of equals the nearest.
    let moves = (-half..=half).map(|step| f64::from(step) / PHASES as f64 * period.length);
    let cost = |moved: f64| moved.abs() / period.length * 0.05;
    let best = moves.map(|moved| (fit(moved) - cost(moved), moved));
    let best = best.reduce(|best, other| if other.0 > best.0 { other } else { best });
    let Some((_, moved)) = best.filter(|(most, _)| *most > fit(0.0) + PLAINER) else {
        return false;
    };
    follower.moved(moved);
    true
}

/// Follows the beat from its start to both ends of the take.
fn follow(
    times: &[f64],
    period: Period,
    start: Start,
    follower: impl Fn(Start, f64) -> Follower,
) -> OwnBeat {
    let (before, after) = times.split_at(start.stroke.min(times.len()));
    // Time runs backwards in the first part.
    let origin = times.get(start.stroke).copied().unwrap_or(0.0);
    let first = follower(start, origin);
    let mut strokes = Vec::with_capacity(times.len());
    let mut squares = Vec::with_capacity(times.len());
    let mut visit = |follower: &mut Follower, stroke: usize, time: f64, out: &mut Vec<OnBeat>| {
        let expected = follower.at(time);
        // The grid is asked about in time from the start, where its phase was found.
        let (off, count, second) = period.nearest(time - origin - expected);
        let share = off / period.gap();
        squares.push(share * share);
        if share.abs() <= Follower::GATE {
            follower.saw(time, off);
            let offset = time - origin - period.time(count, second);
            out.push(OnBeat { stroke, time, count, second, offset });
        }
        share.abs() <= Follower::GATE
    };
    let mut backward = first.clone();
    let mut off = 0_usize;
    for (stroke, &time) in before.iter().enumerate().rev() {
        let met = visit(&mut backward, stroke, time, &mut strokes);
        let ahead = before.get(stroke.saturating_sub(AGAIN)..stroke).unwrap_or_default();
        off = if met { off.saturating_sub(1) } else { off + 2 };
        if off >= LOST && meet_again(&mut backward, period, origin, ahead) {
            off = 0;
        }
    }
    strokes.reverse();
    let mut forward = first;
    for (index, &time) in after.iter().enumerate() {
        let met = visit(&mut forward, before.len() + index, time, &mut strokes);
        let to = (index + 1 + AGAIN).min(after.len());
        let ahead = after.get(index + 1..to).unwrap_or_default();
        off = if met { off.saturating_sub(1) } else { off + 2 };
        if off >= LOST && meet_again(&mut forward, period, origin, ahead) {
            off = 0;
        }
    }
    let shift = origin;
    for stroke in &mut strokes {
        stroke.offset += shift;
    }
    OwnBeat { strokes, firm: firm(squares) }
}

/// How well strokes lie on a grid, from the squares of how far each is off as a share of its gap: 0 for strokes at
/// random, 1 for a machine. Those that lie furthest off do not count: a left hand's notes fall between.
fn firm(mut squares: Vec<f64>) -> f64 {
    /// The share that counts.
    const COUNTS: f64 = 0.75;
    squares.sort_unstable_by(f64::total_cmp);
    squares.truncate((squares.len() as f64 * COUNTS).ceil() as usize);
    // At random they lie evenly up to half a gap, and these up to so much of it; the mean square is a third of that's.
    let at_random = (COUNTS / 2.0).powi(2) / 3.0;
    let mean = super::trend::mean(&squares);
    if squares.is_empty() { 0.0 } else { (1.0 - (mean / at_random).sqrt()).clamp(0.0, 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EVEN: Period = Period { length: 0.25, second: None };
    const SWUNG: Period = Period { length: 0.5, second: Some(0.3) };

    /// Strokes on every place of a period, at so many times its tempo, from a time on.
    fn strokes(period: Period, speed: f64, from: f64) -> Vec<f64> {
        (0..200)
            .flat_map(|count| {
                let second = period.second.map(|_| period.time(count, true));
                std::iter::once(period.time(count, false)).chain(second)
            })
            .map(|time| from + time / speed)
            .collect()
    }

    #[test]
    fn a_beat_is_followed_however_far_it_drifts() {
        for period in [EVEN, SWUNG] {
            for speed in [0.96, 0.98, 1.0, 1.02, 1.04] {
                let times = strokes(period, speed, 3.21);
                let found = own_beat(&times, period);
                let beat = &found[0];
                assert!(beat.firm > 0.9, "{speed} {}", beat.firm);
                assert_eq!(beat.strokes.len(), times.len());
                let (first, last) = (beat.strokes[0], beat.strokes[times.len() - 1]);
                let counts = last.count - first.count;
                assert_eq!((counts, first.second), (199, false), "{period:?} {speed}");
            }
        }
    }

    #[test]
    fn through_a_long_rest_an_own_beat_may_go_on_or_the_bands() {
        let all = strokes(EVEN, 0.98, 3.21);
        let rests = |time: &f64| !(15.0..31.0).contains(time);
        let times: Vec<f64> = all.iter().copied().filter(rests).collect();
        let found = own_beat(&times, EVEN);
        let counts = |beat: &OwnBeat| {
            let (first, last) = (beat.strokes.first().unwrap(), beat.strokes.last().unwrap());
            last.count - first.count
        };
        assert_eq!(found.iter().map(counts).collect::<Vec<_>>(), [200, 199]);
        assert_eq!(own_beat(&all, EVEN).len(), 1);
    }

    #[test]
    fn strokes_on_one_place_alone_may_be_on_either() {
        let times: Vec<f64> = (0..40).map(|count| f64::from(count) * 0.5).collect();
        let found = own_beat(&times, SWUNG);
        assert_eq!(found.len(), 2);
        assert_ne!(found[0].strokes[0].second, found[1].strokes[0].second);
        assert_eq!(own_beat(&strokes(SWUNG, 1.0, 0.0), SWUNG).len(), 1);
    }

    #[test]
    fn another_tempo_is_made_out() {
        for speed in [0.8, 0.9, 1.1, 1.25] {
            let stretch = other_beat(&strokes(SWUNG, speed, 1.0), SWUNG).unwrap();
            assert!((stretch * speed - 1.0).abs() < 0.005, "{speed} {stretch}");
        }
        assert_eq!(other_beat(&strokes(SWUNG, 1.01, 0.0), SWUNG), None);
        assert_eq!((own_beat(&[], EVEN).len(), other_beat(&[], EVEN)), (0, None));
    }
}
