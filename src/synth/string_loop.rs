use super::QUANTUM;
use super::loop_filter::{LoopFilter, RECURSION};

/// One string: what it did lately, fed back through its loop filter.
///
/// The memory is straight, not a ring, so that a filter is plain sums over neighbouring frames,
/// which the compiler turns into vector instructions: a frame depends only on frames a whole round
/// trip ago. At the end of the memory the part that is still needed moves to the front.
#[derive(Clone, Debug)]
pub(super) struct StringLoop {
    memory: Vec<f32>,
    at: usize,
    /// The filter's last frames out, the oldest first: before the drive came in and the bridge gave way.
    last: [f32; RECURSION],
}

impl StringLoop {
    /// With room for filters that reach back at most that many frames.
    pub fn new(longest_reach: usize) -> Self {
        Self { memory: vec![0.0; 3 * longest_reach + 16 * QUANTUM], at: 0, last: [0.0; RECURSION] }
    }

    /// At rest.
    pub fn still(&mut self, filter: &LoopFilter) {
        self.at = filter.reach();
        self.last = [0.0; RECURSION];
        self.memory.iter_mut().take(self.at).for_each(|frame| *frame = 0.0);
    }

    /// Reckons what comes to the bridge in the next frames, driven by `drive`: no more than the filter's delay at
    /// a time. [`Self::settle`] has to follow.
    pub fn arrive(&mut self, filter: &LoopFilter, drive: Option<&[f32]>, frames: usize) -> &[f32] {
        if self.at + frames > self.memory.len() || self.at < filter.reach() {
            self.rewind(filter.reach());
        }
        let Some((past, fresh)) = self.memory.split_at_mut_checked(self.at) else { return &[] };
        let Some(past) = past.get(past.len().saturating_sub(filter.reach())..) else { return &[] };
        let Some(fresh) = fresh.get_mut(..frames) else { return &[] };
        filtered(filter, past, fresh);
        recur(filter.feedback(), &mut self.last, fresh);
        if let Some(drive) = drive {
            fresh.iter_mut().zip(drive).for_each(|(fresh, drive)| *fresh += drive);
        }
        fresh
    }

    /// What the bridge gave way, times the share of the string that meets it, is taken from what arrived, and the
    /// string goes on.
    pub fn settle(&mut self, bridge: &[f32], shares: &[f32]) {
        if let Some(fresh) = self.memory.get_mut(self.at..self.at + bridge.len()) {
            for ((fresh, bridge), share) in fresh.iter_mut().zip(bridge).zip(shares) {
                *fresh -= share * bridge;
            }
            self.at += bridge.len();
        }
    }

    /// The string is stopped elsewhere and goes on: what it did lately is told over again in the new filter's
    /// time, `ratio` times as fast and `gain` times as loud. So its partials keep their strength, and it moves
    /// on without a step.
    pub fn retune(&mut self, old: &LoopFilter, new: &LoopFilter, ratio: f64, gain: f32) {
        let reach = new.reach();
        if self.at + reach > self.memory.len() {
            self.rewind(old.reach());
        }
        let Some((past, fresh)) = self.memory.split_at_mut_checked(self.at) else { return };
        let Some(fresh) = fresh.get_mut(..reach) else { return };
        for (frame, back) in fresh.iter_mut().rev().zip(1_u32..) {
            let place = past.len() as f64 - f64::from(back) * ratio;
            let (at, share) = (place.floor().max(0.0) as usize, (place - place.floor()) as f32);
            let last = past.last().copied().unwrap_or(0.0);
            let [a, b] = [at, at + 1].map(|at| past.get(at).copied().unwrap_or(last));
            *frame = gain * (a + share * (b - a));
        }
        self.last = self.last.map(|frame| frame * gain);
        self.at += reach;
    }

    /// The sum of squares of the last frames: zero when the string is still.
    #[cfg(test)]
    pub fn energy(&self) -> f32 {
        self.memory.iter().take(self.at).map(|x| x * x).sum()
    }

    fn rewind(&mut self, reach: usize) {
        let from = self.at.saturating_sub(reach);
        let kept = self.at - from;
        self.memory.copy_within(from..self.at, reach.saturating_sub(kept));
        self.memory.iter_mut().take(reach.saturating_sub(kept)).for_each(|frame| *frame = 0.0);
        self.at = reach;
    }
}

/// `fresh` = the filter's taps over `past`, whose first frame is the oldest that the first fresh frame needs. Each frame's
/// sum is taken in the same order, wherever a block begins.
fn filtered(filter: &LoopFilter, past: &[f32], fresh: &mut [f32]) {
    let (taps, _) = filter.taps().as_chunks::<4>();
    let mut done = 0;
    // As many side by side as a processor has registers for.
    let (many, rest) = fresh.as_chunks_mut::<16>();
    for fresh in many {
        summed(taps, past.get(done..).unwrap_or_default(), fresh);
        done += fresh.len();
    }
    let (fours, rest) = rest.as_chunks_mut::<4>();
    for fresh in fours {
        summed(taps, past.get(done..).unwrap_or_default(), fresh);
        done += fresh.len();
    }
    let (ones, _) = rest.as_chunks_mut::<1>();
    for fresh in ones {
        summed(taps, past.get(done..).unwrap_or_default(), fresh);
        done += fresh.len();
    }
}

/// Some neighbouring frames of it.
#[inline]
fn summed<const N: usize>(taps: &[[f32; 4]], past: &[f32], fresh: &mut [f32; N]) {
    let mut sums = [0.0; N];
    for (group, &[a, b, c, d]) in taps.iter().enumerate() {
        let Some(past) = past.get(4 * group..4 * group + N + 3) else { return };
        for frame in 0..N {
            let (p, q, r, s) = (past[frame], past[frame + 1], past[frame + 2], past[frame + 3]);
            sums[frame] += (a * p + b * q) + (c * r + d * s);
        }
    }
    *fresh = sums;
}

/// Adds what a filter takes of its own frames, of which `last` are those before the fresh ones.
fn recur(feedback: f32, last: &mut [f32; RECURSION], fresh: &mut [f32]) {
    let (fours, rest) = fresh.as_chunks_mut::<RECURSION>();
    // All four from registers to registers: a processor waits where what was just stored is loaded in another width.
    let mut before = *last;
    for four in fours {
        let mut now = *four;
        for (now, before) in now.iter_mut().zip(before) {
            *now += feedback * before;
        }
        *four = now;
        before = now;
    }
    for fresh in rest {
        *fresh += feedback * before[0];
        before = [before[1], before[2], before[3], *fresh];
    }
    *last = before;
}

#[cfg(test)]
mod tests {
    use super::super::loop_filter::Ring;
    use super::*;

    fn ring_of(hz: f64, step: usize) -> Vec<f32> {
        let ring = Ring { low: 3.0, bright: 0.5, bright_hz: 2_000.0, stiffness: 5e-5 };
        let filter = LoopFilter::new(48_000.0, hz, ring, 0.0).unwrap();
        let mut string = StringLoop::new(filter.reach());
        string.still(&filter);
        let mut drive = vec![0.0; 48_000];
        drive[0] = 1.0;
        let mut out = vec![0.0; drive.len()];
        for (drive, out) in drive.chunks(step).zip(out.chunks_mut(step)) {
            for (drive, out) in drive.chunks(filter.delay()).zip(out.chunks_mut(filter.delay())) {
                out.copy_from_slice(string.arrive(&filter, Some(drive), drive.len()));
                string.settle(out, &[0.0; QUANTUM]);
            }
        }
        assert!(string.energy().is_finite());
        out
    }

    #[test]
    fn rings_the_same_however_it_is_cut() {
        for hz in [41.2, 440.0, 1_318.5, 9_000.0] {
            let whole = ring_of(hz, 64);
            for step in [1, 7, 64, 4_800] {
                assert_eq!(whole, ring_of(hz, step), "{hz} Hz in steps of {step}");
            }
            let energy = |range: &[f32]| range.iter().map(|x| x * x).sum::<f32>();
            let (head, tail) = (energy(&whole[..4_800]), energy(&whole[43_200..]));
            assert!(head > 0.0 && tail < head, "{hz} Hz must decay");
        }
    }
}
