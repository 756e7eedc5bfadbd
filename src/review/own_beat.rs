//! The beat that a take has by itself: its strokes laid on a grid of their own that is carried along with
//! them. Where in the song that is, is another question.

use super::kalman::Follower;

/// How far from the tempo asked for a player's beat may lie to be looked for, as a share.
pub(super) const WIDEST: f64 = 0.045;

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

/// Finds the beat of strokes (seconds, in order), which is about that of `period`. Where the strokes fit with
/// firsts and seconds of the period exchanged as well, both ways are given.
pub(super) fn own_beat(times: &[f64], period: Period) -> Vec<OwnBeat> {
    let Some(start) = best_start(times, period, (-15..=15).map(|step| f64::from(step) * FINE))
    else {
        return Vec::new();
    };
    let mut found = vec![follow(times, period, start)];
    if let Some(second) = period.second {
        let other = Start { phase: start.phase - second * start.stretch, ..start };
        let exchanged = follow(times, period, other);
        if exchanged.firm > found.first().map_or(0.0, |first| first.firm) * 0.9 {
            found.push(exchanged);
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

/// Follows the beat from its start to both ends of the take.
fn follow(times: &[f64], period: Period, start: Start) -> OwnBeat {
    let (before, after) = times.split_at(start.stroke.min(times.len()));
    // Time runs backwards in the first part.
    let origin = times.get(start.stroke).copied().unwrap_or(0.0);
    let first = Follower::new(origin, start.phase - origin, start.stretch - 1.0);
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
    };
    let mut backward = first.clone();
    for (stroke, &time) in before.iter().enumerate().rev() {
        visit(&mut backward, stroke, time, &mut strokes);
    }
    strokes.reverse();
    let mut forward = first;
    for (index, &time) in after.iter().enumerate() {
        visit(&mut forward, before.len() + index, time, &mut strokes);
    }
    let shift = origin;
    for stroke in &mut strokes {
        stroke.offset += shift;
    }
    // Of strokes at random the mean square is a twelfth of the gap.
    let mean = squares.iter().sum::<f64>() / squares.len().max(1) as f64;
    OwnBeat { strokes, firm: (1.0 - (mean * 12.0).sqrt()).clamp(0.0, 1.0) }
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
