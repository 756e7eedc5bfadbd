//! What else could explain the last timing clocks: another tempo, a leap of the phase, a clock that was
//! lost or came twice.
//!
//! For each of the last clocks, had the change come right after it, how much better would it explain what
//! came since? That is a generalized likelihood ratio: the change's own size is the one that fits best, and
//! the gain is the drop in the sum of squares, in standard deviations of the jitter. No clock counts for more
//! than [`MOST`], so that what changed has to show in several.

use super::clock_line::Line;

/// How many clocks are kept: two quarter notes. A change that does not show in these is so small that the
/// filter's own forgetting deals with it.
const KEPT: usize = 48;

/// What one clock can count for: 4 standard deviations.
const MOST: f64 = 16.0;

/// The gain that makes a change of tempo or a miscount: 6 standard deviations in all. In simulations of
/// normal jitter of 2 ms at 200 quarters a minute, with less a step of a tenth passed for a lost clock now
/// and then, and with more a lost clock for a step.
const CHANGED: f64 = 36.0;

/// The gain that makes a leap of the phase by less than a clock. Machines hardly ever leap, and a change of
/// tempo that has only begun looks like it.
const LEAPT: f64 = 64.0;

/// The fewest clocks that make a change of tempo: a lost clock shows in three.
const FEWEST: usize = 5;

#[derive(Clone, Copy, Debug)]
enum Change {
    /// Another tempo.
    Tempo,
    /// The phase leapt by so much.
    Phase(f64),
    /// So many clocks were lost; -1 for one that came twice.
    Count(i64),
}

/// The last clocks, each with the line after it.
#[derive(Clone, Debug)]
pub(super) struct Past {
    at: [f64; KEPT],
    lines: [Line; KEPT],
    /// How many there are, and where the next goes.
    count: usize,
    next: usize,
}

impl Past {
    pub(super) const fn new() -> Self {
        Self { at: [0.0; KEPT], lines: [Line::NONE; KEPT], count: 0, next: 0 }
    }

    /// Forgets all, and begins with this one.
    pub(super) fn begin(&mut self, at: f64, line: Line) {
        self.count = 0;
        self.push(at, line);
    }

    /// Another clock, and the line after it.
    pub(super) fn push(&mut self, at: f64, line: Line) {
        self.at[self.next % KEPT] = at;
        self.lines[self.next % KEPT] = line;
        self.next = (self.next + 1) % KEPT;
        self.count = (self.count + 1).min(KEPT);
    }

    /// Where the one stands that came `back` clocks before the newest.
    fn slot(&self, back: usize) -> usize {
        (self.next + 2 * KEPT - 1 - back) % KEPT
    }

    /// The line anew, if something explains the last clocks better than it does.
    pub(super) fn explained(&mut self, jitter: f64) -> Option<Line> {
        let (mut best, mut most) = (None, 0.0);
        for back in 2..self.count {
            let (change, gain) = self.gain(back, jitter);
            if gain > most {
                (best, most) = (Some((back, change)), gain);
            }
        }
        let (back, change) = best?;
        let from = self.slot(back);
        let mut line = self.lines[from];
        match change {
            Change::Tempo => line = line.of_open_mind(jitter),
            Change::Phase(jump) => line = line.moved(jump, jitter),
            Change::Count(_) => {}
        }
        // What came before says nothing any more.
        self.count = back + 1;
        self.lines[from] = line;
        for newer in (0..back).rev() {
            let slot = self.slot(newer);
            let mut number = self.lines[slot].number;
            if let Change::Count(lost) = change {
                number = number.saturating_add_signed(lost);
            }
            let steps = number.saturating_sub(line.number);
            line = line.ahead(steps as f64, jitter).taking(self.at[slot], jitter);
            self.lines[slot] = line;
        }
        Some(line)
    }

    /// What explains the newest `back` clocks best, and by how much it is over its threshold.
    fn gain(&self, back: usize, jitter: f64) -> (Change, f64) {
        let from = self.lines[self.slot(back)];
        let offs = (0..back).map(|newer| {
            let slot = self.slot(newer);
            let steps = self.lines[slot].number.saturating_sub(from.number) as f64;
            (steps, self.at[slot] - (from.phase + steps * from.period))
        });
        let count = back as f64;
        let (mut steps, mut squares, mut moment, mut total) = (0.0, 0.0, 0.0, 0.0);
        for (step, off) in offs.clone() {
            steps += step;
            squares += step * step;
            moment += step * off;
            total += off;
        }
        let slope = moment / squares;
        let jump = total / count;
        let lost = (jump / from.period).round().max(-1.0);
        let (mut as_it_is, mut tempo, mut phase, mut miscount) = (0.0, 0.0, 0.0, 0.0);
        let cost = |off: f64| (off / jitter).powi(2).min(MOST);
        for (step, off) in offs {
            as_it_is += cost(off);
            tempo += cost(off - slope * step);
            phase += cost(off - jump);
            miscount += cost(off - lost * from.period);
        }
        // The less sure the line was, the less it proves that it fits badly.
        let own = jitter * jitter;
        let sure = |of: f64, line: f64| of / (of + line);
        let sure_of_tempo = sure(
            own * squares,
            from.phase_var * steps * steps
                + 2.0 * from.covar * steps * squares
                + from.period_var * squares * squares,
        );
        let middle = steps / count;
        let sure_of_phase = sure(
            own / count,
            from.phase_var + 2.0 * from.covar * middle + from.period_var * middle * middle,
        );
        // A leap by whole clocks, near enough, is a miscount.
        let whole = lost != 0.0 && (jump - lost * from.period).abs() < from.period / 4.0;
        let leap = if whole {
            (Change::Count(lost as i64), (as_it_is - miscount) * sure_of_phase - CHANGED)
        } else {
            (Change::Phase(jump), (as_it_is - phase) * sure_of_phase - LEAPT)
        };
        let enough = if back < FEWEST { f64::INFINITY } else { CHANGED };
        let choices = [(Change::Tempo, (as_it_is - tempo) * sure_of_tempo - enough), leap];
        let mut best = (Change::Tempo, -1.0);
        for choice in choices {
            if choice.1 > best.1 {
                best = choice;
            }
        }
        best
    }
}
