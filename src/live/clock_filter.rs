//! Tempo and phase out of an outside machine's timing clocks, which arrive with jitter.
//!
//! The clocks of a steady machine lie on a line: time over count, whose slope is the period. A Kalman
//! filter of two states (the time of the newest clock, and the period) follows it; while it is young it is
//! the least-squares line through all clocks so far, and later it forgets slowly. What it forgets slowly it
//! would also learn slowly, so after every clock it is asked what else could explain the last ones better:
//! see [`super::clock_change`].
//!
//! Sources, from memory: R. E. Kalman, "A New Approach to Linear Filtering and Prediction Problems", Journal
//! of Basic Engineering 82 (1960), for the filter; A. S. Willsky and H. L. Jones, "A Generalized Likelihood
//! Ratio Approach to the Detection and Estimation of Jumps in Linear Systems", IEEE Transactions on Automatic
//! Control 21 (1976), for finding changes; P. J. Huber, "Robust Estimation of a Location Parameter", Annals
//! of Mathematical Statistics 35 (1964), for holding what lies far out.

use super::clock_change::Past;
use super::clock_line::Line;
use crate::time::Nanos;

/// Timing clocks in a quarter note (MIDI 1.0).
pub const CLOCKS_A_QUARTER: u32 = 24;

/// What is known after a clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Estimate {
    /// The clock's number: clocks since the start, or since the first that was heard. A clock that was
    /// lost on the way is counted, one that came twice is not; that shows two to four clocks later, so
    /// the number may then leap by one or stand.
    pub ticks: u64,
    /// When that clock should have come: its time without jitter.
    pub at: Nanos,
    /// The length of a quarter note, 24 clocks, in nanoseconds.
    pub nanos_per_quarter: u64,
}

/// Clocks that are gathered before there is a first guess: six intervals, whose median is right even with
/// one clock lost and one doubled among them.
const TO_LOCK: usize = 7;

/// The shortest period: 800 quarters a minute, the fastest tempo of a chart, 400 half notes.
const SHORTEST: f64 = 60e9 / 800.0 / 24.0;
/// The longest: 10 quarters a minute, the slowest tempo.
const LONGEST: f64 = 60e9 / 10.0 / 24.0;

/// What the jitter (standard deviation) is taken for at first: 2 ms.
const JITTER: f64 = 2e6;
/// It is never taken for less than this: an interface that delivers once in a millisecond may drift by
/// a whole one between two neighbours that look steady.
const LEAST_JITTER: f64 = 0.7e6;
/// Nor for more than this share of a period: past it nothing would look like a change. Clocks that are
/// delivered two at a time reach it.
const MOST_JITTER: f64 = 1.0 / 3.0;

/// More clocks than this missing in a row are a gap.
const GAP: f64 = 8.0;

/// Turns timing clocks into tempo and phase. Allocates nothing, and takes a few microseconds at most for
/// a clock.
#[derive(Clone, Debug)]
pub struct ClockFilter {
    /// The first clocks, until there is a line.
    first: [f64; TO_LOCK],
    gathered: usize,
    /// The number of the next clock, while there is no line.
    next: u64,
    line: Option<Line>,
    past: Past,
    /// The next clock is the song's first.
    starting: bool,
    jitter: f64,
    /// The two last times, the newest first.
    last: [Option<f64>; 2],
}

impl ClockFilter {
    /// A filter that has heard nothing.
    pub const fn new() -> Self {
        Self {
            first: [0.0; TO_LOCK],
            gathered: 0,
            next: 0,
            line: None,
            past: Past::new(),
            starting: false,
            jitter: JITTER,
            last: [None; 2],
        }
    }

    /// The next clock is number 0, and begins a new count wherever it falls. What is known of the tempo
    /// stays.
    pub fn start(&mut self) {
        self.starting = true;
        self.next = 0;
        self.gathered = 0;
    }

    /// The length of a quarter note in nanoseconds, as far as it is known.
    pub fn nanos_per_quarter(&self) -> Option<u64> {
        self.line.as_ref().map(nanos_per_quarter)
    }

    /// A clock that came at the time `at`. None until seven have come.
    pub fn tick(&mut self, at: Nanos) -> Option<Estimate> {
        // Time does not run back; a clock that claims so came at once.
        let at = self.last[0].map_or(at.0 as f64, |last| last.max(at.0 as f64));
        let starting = std::mem::take(&mut self.starting);
        let line = match self.line {
            None => self.gather(at)?,
            Some(line) if starting => {
                self.last = [Some(at), None];
                let line = line.restarted(0, at, self.jitter);
                self.past.begin(at, line);
                line
            }
            Some(line) => self.follow(line, at),
        };
        self.line = Some(line);
        let at = Nanos(line.phase.round() as i64);
        Some(Estimate { ticks: line.number, at, nanos_per_quarter: nanos_per_quarter(&line) })
    }

    /// One of the first clocks; a line when they are enough.
    fn gather(&mut self, at: f64) -> Option<Line> {
        if self.last[0].is_some_and(|last| at - last > 2.0 * LONGEST) {
            // What came before the pause says nothing.
            self.gathered = 0;
        }
        self.last = [Some(at), None];
        self.next += 1;
        if let Some(slot) = self.first.get_mut(self.gathered) {
            *slot = at;
            self.gathered += 1;
        }
        if self.gathered < TO_LOCK {
            return None;
        }
        self.gathered = 0;
        let times = self.first;
        let mut intervals = [0.0; TO_LOCK - 1];
        for (interval, pair) in intervals.iter_mut().zip(times.windows(2)) {
            if let [earlier, later] = pair {
                *interval = later - earlier;
            }
        }
        intervals.sort_by(f64::total_cmp);
        let period = (intervals[TO_LOCK / 2 - 1] + intervals[TO_LOCK / 2]) / 2.0;
        if !(SHORTEST..=LONGEST).contains(&period) {
            return None;
        }
        let mut line = Line::new(self.next - TO_LOCK as u64, times[0], period, self.jitter);
        self.past.begin(times[0], line);
        self.last = [Some(times[0]), None];
        for at in times.into_iter().skip(1) {
            line = self.follow(line, at);
        }
        Some(line)
    }

    /// Takes in a clock.
    fn follow(&mut self, line: Line, at: f64) -> Line {
        self.learn_jitter(at, line.period);
        let next = line.ahead(1.0, self.jitter);
        let missing = ((at - next.phase) / line.period).round();
        if missing >= GAP {
            // How many there would have been is known from the tempo alone.
            let line = line.over_gap(1.0 + missing).taking(at, self.jitter);
            let line = line.held(SHORTEST, LONGEST);
            self.past.begin(at, line);
            return line;
        }
        let line = next.taking(at, self.jitter).held(SHORTEST, LONGEST);
        self.past.push(at, line);
        self.past.explained(self.jitter).unwrap_or(line).held(SHORTEST, LONGEST)
    }

    /// From how far each clock lies from the middle of its neighbours, which no steady tempo moves. For
    /// normal jitter of deviation s twice that has the deviation s √6, and so the mean size s √(12/π).
    fn learn_jitter(&mut self, at: f64, period: f64) {
        const MEAN: f64 = 1.954;
        /// About so many clocks.
        const SMOOTHING: f64 = 48.0;
        if let [Some(last), Some(before)] = self.last {
            let bend = (at - 2.0 * last + before).abs() / MEAN;
            let bend = bend.min(3.0 * self.jitter);
            let jitter = self.jitter + (bend - self.jitter) / SMOOTHING;
            self.jitter = jitter.clamp(LEAST_JITTER, MOST_JITTER * period);
        }
        self.last = [Some(at), self.last[0]];
    }
}

impl Default for ClockFilter {
    fn default() -> Self {
        Self::new()
    }
}

fn nanos_per_quarter(line: &Line) -> u64 {
    (line.period * f64::from(CLOCKS_A_QUARTER)).round() as u64
}
