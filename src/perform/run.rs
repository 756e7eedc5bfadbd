use super::bar_view::BarView;
use crate::arrange::ChordId;
use crate::chart::{Role, Stop};
use crate::style::{BassNote, Slot, Strike};
use crate::theory::MidiNote;
use crate::time::{Tempo, Ticks};

/// The steps of a run that are played in one chord of one bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Run {
    /// A bit for each slot of the bar that is a step, the first slot's the lowest.
    steps: u64,
    /// The chord where it arrives; `None` if there is none, or nobody to hear it.
    pub to: Option<ChordId>,
}

impl Run {
    /// Which step stands at a slot, from 0; `None` for a slot that is left out of the run.
    pub(super) fn step(self, slot: u32) -> Option<usize> {
        let bit = 1_u64.checked_shl(slot)?;
        (self.steps & bit != 0).then(|| (self.steps & (bit - 1)).count_ones() as usize)
    }

    /// How many steps it has.
    pub(super) const fn of(self) -> usize {
        self.steps.count_ones() as usize
    }
}

/// The note that a run leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Arrival {
    /// The chord that it belongs to.
    pub to: ChordId,
    pub note: MidiNote,
    /// The bar that the run is in.
    pub bar: u32,
}

impl Arrival {
    /// The note, if that chord is reached in time: no later than in the next bar.
    pub(super) fn reached(self, id: ChordId, bar: u32) -> Option<MidiNote> {
        (self.to == id && bar <= self.bar + 1).then_some(self.note)
    }
}

/// The shortest that a step of a run lasts.
pub(super) fn shortest(role: Role, pace: Tempo) -> Ticks {
    pace.ticks_in_millis(1000.0 / role.row().playing.steps_a_second)
}

/// The longest share of its time that a note of a run sounds: its notes are told apart (common practice,
/// no source).
pub(super) const APART: f64 = 0.92;

impl BarView<'_> {
    /// The run that the slots of `kind` make in a chord which was heard from `from` on.
    ///
    /// A walk arrives at the next chord, if that begins in this bar or with the next, and is played; where
    /// the chord goes on through the next bar, at its own root. Of the slots written for a run those count
    /// - that come after `from`, and that no stop takes away;
    /// - that leave the chord a third of its time before it is walked out of (common practice, no source);
    /// - that leave each step the time that a hand needs; it is those between the beats that are left out.
    pub(super) fn run(&self, kind: BassNote, span: usize, from: Ticks) -> Run {
        let bar_end = self.bar.end();
        let Some(here) = self.span(span) else { return Run { steps: 0, to: None } };
        let until = here.end.min(bar_end);
        let own_time = match kind {
            BassNote::Walk => Ticks::new((until - here.start).get() / 3),
            BassNote::GRun | BassNote::Degree { .. } => Ticks::ZERO,
        };
        let earliest = here.start + own_time;
        let shortest = shortest(self.role, self.song.pace);
        let written = self.slots().filter(|&(_, at, slot)| {
            let is_step =
                matches!(slot, Slot::Strike(Strike { bass: Some(note), .. }) if note == kind);
            is_step
                && at > from
                && at >= earliest
                && at < until
                && self.stop_in_force(at) == Stop::PlayOn
        });
        let written: Vec<_> = written.map(|(slot, at, _)| (slot, at)).collect();
        let mut steps = 0_u64;
        let mut struck = vec![until];
        // The strongest places first, and of equals the last.
        for unit in [self.bar.beat(), Ticks::QUARTER, Ticks::EIGHTH, Ticks::new(1)] {
            for &(slot, at) in written.iter().rev() {
                let near = |&other: &Ticks| Ticks::new((other - at).get().abs()) < shortest;
                if (at - self.bar.start).is_multiple_of(unit) && !struck.iter().any(near) {
                    steps |= 1_u64.checked_shl(slot).unwrap_or(0);
                    struck.push(at);
                }
            }
        }
        if kind == BassNote::GRun {
            return Run { steps, to: here.chord };
        }
        let target = if here.end > bar_end {
            // Nobody comes home to leave at once.
            here.chord.filter(|_| self.next.is_some_and(|next| here.end >= next.end()))
        } else {
            self.span(span + 1).filter(|next| next.start == until).and_then(|next| next.chord)
        };
        let arrives = if until < bar_end {
            self.stop_in_force(until) == Stop::PlayOn
                || matches!(self.stop_at(until), Some(Stop::Hit | Stop::Hold))
        } else {
            self.next.is_some_and(|next| self.heard(next))
        };
        Run { steps, to: target.filter(|_| arrives) }
    }

    /// The walk that follows a note at `at` with no other note between, in a chord heard from `from` on:
    /// how many steps, and where to. Not in the first bar of a pass, where a player may just have come in:
    /// what is played there doesn't hang on what came before.
    pub(super) fn ahead(&self, at: Ticks, span: usize, from: Ticks) -> Option<(usize, ChordId)> {
        if self.bar.facts.first_bar || !self.pattern.walks() {
            return None;
        }
        let until = self.span(span)?.end.min(self.bar.end());
        let walk = self.run(BassNote::Walk, span, from);
        let mut notes = self.slots().filter_map(|(slot, time, what)| match what {
            Slot::Strike(Strike { bass: Some(note), .. }) if time > at && time < until => {
                let left_out = note == BassNote::Walk && walk.step(slot).is_none();
                (!left_out).then_some(note)
            }
            _ => None,
        });
        (notes.next()? == BassNote::Walk).then_some((walk.of(), walk.to?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Meter;

    #[test]
    fn a_slot_left_out_is_no_step() {
        let run = Run { steps: 0b1101_0000, to: None };
        let steps: Vec<_> = (4..8).map(|slot| run.step(slot)).collect();
        assert_eq!(steps, [Some(0), None, Some(1), Some(2)]);
        assert_eq!((run.of(), run.step(3), run.step(64)), (3, None, None));
    }

    #[test]
    fn eighths_are_for_tempi_that_have_time_for_them() {
        let eighths =
            |role, bpm| shortest(role, Tempo::new(bpm, Meter::FourFour, 100.0)) <= Ticks::EIGHTH;
        assert!(eighths(Role::Bass, 149.0) && !eighths(Role::Bass, 151.0));
        assert!(eighths(Role::Guitar, 269.0) && !eighths(Role::Guitar, 271.0));
    }
}
