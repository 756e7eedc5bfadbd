//! What all figures are made with.

use std::sync::Arc;

use crate::arrange::{Arrangement, BarKind};
use crate::backup::Player;
use crate::backup::bars::{BarPlan, is_break};
use crate::backup::dice::{dice, line_of};
use crate::backup::figure::{Figure, FigureNote, last_frets};
use crate::backup::lick::{FittedLick, LickSlot};
use crate::backup::shift::Range as Frets;
use crate::backup::slot::is_heard;
use crate::backup::stance::{Stance, Stances};
use crate::backup::steps::Step;
use crate::coverage::Job;
use crate::style::Loud;
use crate::theory::Chord;
use crate::time::Ticks;

/// The shortest time from one note of a slur to the next, in milliseconds: a trill of sixteenths at 200 quarters a
/// minute has 75 (common practice, no source).
pub(super) const FASTEST_SLUR: f64 = 60.0;

/// The most steps of a lead-in: more only where a chord has lasted for two bars, so that the roll is still heard.
pub(super) const LEAD_IN: usize = 2;

/// See [`LEAD_IN`].
pub(super) const LONG_LEAD_IN: usize = 4;

/// Makes the figures of a part, one after another.
pub(super) struct Maker<'a> {
    pub(super) song: &'a Arrangement,
    pub(super) steps: &'a [Step],
    pub(super) plans: &'a [BarPlan],
    pub(super) stances: &'a Stances,
    pub(super) capo: u8,
    pub(super) player: Player<'a>,
    /// The lick that was played last.
    pub(super) last: Option<Arc<str>>,
    /// Where the left hand was last in a figure, and when.
    pub(super) hand: Option<(Ticks, Frets)>,
    /// What it stops first in the figure that follows, and when.
    pub(super) following: Option<(Ticks, Frets)>,
    pub(super) made: Vec<Figure>,
}

/// Where something is led to.
#[derive(Clone, Copy)]
pub(super) struct Goal<'a> {
    pub(super) chord: &'a Chord,
    /// The step where it arrives; `None` where the band strikes the chord together.
    pub(super) step: Option<Step>,
}

impl<'a> Maker<'a> {
    /// The first step after one that has another chord or does not follow it.
    pub(super) fn span_end(&self, from: usize) -> usize {
        let first = self.steps.get(from);
        let mut end = from + 1;
        while let (Some(first), Some(before), Some(step)) =
            (first, self.steps.get(end - 1), self.steps.get(end))
        {
            if step.span != first.span || step.at != before.end() || step.length != first.length {
                break;
            }
            end += 1;
        }
        end
    }

    pub(super) fn chord(&self, step: &Step) -> Option<&'a Chord> {
        self.song.chord(self.song.spans.get(step.span)?.chord?)
    }

    pub(super) fn stance(&self, step: &Step) -> Option<&'a Stance> {
        self.stances.of(self.song, step.bar, step.span)
    }

    pub(super) fn job(&self, step: &Step) -> Job {
        self.plans.get(step.bar).map_or(Job::Rest, |plan| plan.job)
    }

    pub(super) fn breaks(&self, step: &Step) -> bool {
        self.song.bars.get(step.bar).is_some_and(|bar| is_break(bar, self.job(step)))
    }

    pub(super) fn booms(&self, step: &Step) -> bool {
        matches!(self.job(step), Job::Boom | Job::BoomVamp)
    }

    pub(super) fn millis(&self, ticks: Ticks) -> f64 {
        self.song.pace.nanos(ticks).seconds() * 1000.0
    }

    /// What stands right after some steps, if something can be led to it.
    pub(super) fn goal(&self, end: usize) -> Option<Goal<'a>> {
        let before = self.steps.get(end.checked_sub(1)?)?;
        if let Some(step) = self.steps.get(end).filter(|step| step.at == before.end()) {
            // A break begins with its own note.
            let rests = self.job(step) == Job::Rest || !step.open || self.breaks(step);
            return (!rests).then_some(Goal { chord: self.chord(step)?, step: Some(*step) });
        }
        let bar = self.song.bars.get(before.bar + 1)?;
        let waits =
            bar.start == before.end() && matches!(bar.kind, BarKind::FinalHit | BarKind::ColdEnd);
        if !waits || !is_heard(self.song, bar) {
            return None;
        }
        let span = self.song.spans.get(bar.spans.start)?;
        Some(Goal { chord: self.song.chord(span.chord?)?, step: None })
    }

    /// True if something made so far arrives at a step.
    pub(super) fn arrives_at(&self, step: usize) -> bool {
        let at = self.steps.get(step).map(|step| step.at);
        let mut notes = self.made.iter().flat_map(|figure| &figure.notes);
        notes.any(|note| note.arrives && Some(note.at) == at)
    }

    /// A throw for a place of the chart: the same whenever it comes round, so that it can be learned.
    pub(super) fn dice(&self, kind: u8, step: &Step) -> u64 {
        self.throw(kind, step, 0)
    }

    /// A throw for a place of one pass: what answers a singer says something else in the next verse.
    pub(super) fn dice_of_pass(&self, kind: u8, step: &Step) -> u64 {
        let pass = self.song.bars.get(step.bar).map_or(0, |bar| bar.pass);
        self.throw(kind, step, pass as u64)
    }

    fn throw(&self, kind: u8, step: &Step, pass: u64) -> u64 {
        let Some(bar) = self.song.bars.get(step.bar) else { return 0 };
        let place = (step.at - bar.start).get().unsigned_abs();
        let place = place + ((bar.turn as u64) << 32) + (pass << 48);
        dice(self.player.seed, [u64::from(kind), line_of(self.song, bar), place])
    }

    /// Puts steps right before the one at `end`, and there what arrives. Gives their number.
    pub(super) fn put(
        &mut self,
        name: Option<Arc<str>>,
        end: usize,
        slots: Vec<LickSlot>,
        arrives: Option<(LickSlot, Step)>,
    ) -> usize {
        let count = slots.len();
        let mut slots = slots;
        let last = end.checked_sub(1).and_then(|last| self.steps.get(last));
        let next = self.steps.get(end);
        let goes_on = next.is_some_and(|next| next.open && Some(next.at) == last.map(Step::end));
        // Where the band strikes together next, all fingers are wanted: none of them picks within an eighth before.
        if let Some(last) = last.filter(|_| count > 1 && !goes_on) {
            let busy = 1 + usize::from(last.length * 2 <= Ticks::EIGHTH && count > 2);
            slots.truncate(count - busy);
            slots.resize(count, LickSlot::Ring);
        }
        let Some(own) = end.checked_sub(count).and_then(|first| self.steps.get(first..end)) else {
            return 0;
        };
        let (Some(first), Some(last)) = (own.first(), own.last()) else { return 0 };
        let during = first.at..last.end();
        let mut notes: Vec<FigureNote> =
            own.iter().zip(slots).map(|(step, slot)| note(step, slot, false)).collect();
        notes.extend(arrives.map(|(slot, step)| note(&step, slot, true)));
        let figure = Figure { name: name.clone(), during, notes, leads: false };
        self.hand = last_frets(&figure);
        if name.is_some() {
            self.last = name;
        }
        self.made.push(figure);
        count
    }
}

/// Behind a singer it is felt more than heard, but for the note that arrives.
pub(super) fn note(step: &Step, mut slot: LickSlot, arrives: bool) -> FigureNote {
    let Step { at, length, bar, span, sung, .. } = *step;
    if let LickSlot::Notes { loud, .. } = &mut slot
        && sung
    {
        *loud = if arrives { Loud::Normal } else { Loud::Ghost };
    }
    FigureNote { at, length, bar, span, slot, arrives, tune: false }
}

/// One of some by the dice, but none of those that are played right before it or after it.
pub(super) fn choose<'a>(
    from: &[&'a FittedLick],
    throw: u64,
    not: &[Option<Arc<str>>],
) -> Option<&'a FittedLick> {
    let played = |fitted: &FittedLick| not.iter().flatten().any(|name| **name == *fitted.lick.name);
    let others: Vec<&FittedLick> = from.iter().copied().filter(|fitted| !played(fitted)).collect();
    let at = |count: usize| usize::try_from(throw % count.max(1) as u64).unwrap_or(0);
    others.get(at(others.len())).copied()
}
