//! What fills a singer's pause, and the last bar before the last chord.

use std::ops::Range;
use std::sync::Arc;

use super::maker::{Goal, LEAD_IN, LONG_LEAD_IN, Maker, choose};
use crate::arrange::BarKind;
use crate::backup::figure::{Figure, first_frets, last_frets};
use crate::backup::lick::{FittedLick, LickSlot, Purpose};
use crate::backup::steps::Step;
use crate::coverage::Job;
use crate::theory::fretboard::banjo::sounding;
use crate::time::{Meter, Ticks};

/// What is so short is hardly a lick.
const SHORT: usize = 2;

/// The most steps of a fill: two bars of eighths. In a longer pause the roll goes on before it.
const LONGEST_FILL: usize = 16;

impl Maker<'_> {
    /// Fills a pause: licks over each chord, the last of them led into the line that follows.
    pub(super) fn fill(&mut self, pause: Range<usize>) {
        let mut parts: Vec<Range<usize>> = Vec::new();
        let mut at = pause.start;
        while at < pause.end {
            let end = self.span_end(at).min(pause.end);
            parts.push(at..end);
            at = end;
        }
        // The last first, since it is what matters; licks before it as far as there is room.
        let mut left = LONGEST_FILL;
        let (last, hand) = (self.last.clone(), self.hand);
        let before = self.made.len();
        let mut newest: Option<Arc<str>> = None;
        for (number, part) in parts.iter().enumerate().rev() {
            let goal = self.goal(part.end);
            // Where a part before this one leads into it, its first step is taken.
            let first = part.start + usize::from(number > 0);
            let room = self.tail(&(first..part.end)).min(left);
            let changes = part.end == pause.end
                || goal.is_some_and(|goal| {
                    let own = self.steps.get(part.start).and_then(|step| self.chord(step));
                    own.is_some_and(|own| own.root.pitch_class() != goal.chord.root.pitch_class())
                });
            let mut end = part.end;
            let following = self.made.get(before..).and_then(|made| made.last()?.name.clone());
            if let Some(goal) = goal.filter(|_| changes) {
                let own = first..part.end;
                let not = [last.clone(), following];
                end -= match self.led_fill(own.clone(), left, goal, &not) {
                    0 => self.lead(own, room, goal, &not),
                    taken => taken,
                };
                left = left.saturating_sub(part.end - end);
            }
            if newest.is_none() {
                newest = self.made.get(before..).and_then(|made| made.last()?.name.clone());
            }
            let following = self.made.get(before..).and_then(|made| made.last()?.name.clone());
            let mut not = [last.clone(), following];
            loop {
                self.hand = hand;
                self.following = self.made.get(before..).and_then(|made| first_frets(made.last()?));
                let Some(taken) = self.body(first..end, left, &not) else { break };
                end -= taken;
                left = left.saturating_sub(taken);
                let name = self.made.last().and_then(|figure| figure.name.clone());
                newest = newest.or_else(|| name.clone());
                not = [last.clone(), name];
            }
            self.following = self.made.get(before..).and_then(|made| first_frets(made.last()?));
        }
        self.following = None;
        self.hand = self.made.get(before).and_then(last_frets).or(hand);
        self.last = newest.or(last);
    }

    /// Puts a fill that leads on by itself into the last of some steps. Gives the number that it took; most often none,
    /// for there are more ways to put it together from a lick and a lead-in.
    fn led_fill(
        &mut self,
        own: Range<usize>,
        most: usize,
        goal: Goal<'_>,
        not: &[Option<Arc<str>>],
    ) -> usize {
        /// One pause in so many, where there is such a fill.
        const ONE_IN: u64 = 3;
        let Some(last) = own.end.checked_sub(1).and_then(|last| self.steps.get(last)).copied()
        else {
            return 0;
        };
        let throw = self.dice_of_pass(b'w', &last);
        if !(throw >> 32).is_multiple_of(ONE_IN) {
            return 0;
        }
        let room = own.len().min(most);
        let found = self.licks(Purpose::Fill, &last, Some(goal.chord));
        let booms = goal.step.is_some_and(|step| self.booms(&step));
        let fits = |fitted: &FittedLick| {
            fitted.lick.slots.len() <= room
                && self.begins_on_a_beat(own.end, fitted)
                && self.sits(fitted, own.end, goal.step.as_ref())
                && (!booms || self.arrives_on_boom(fitted, goal.chord))
                && self.reaches(fitted, own.end, goal.step)
        };
        let fitting: Vec<FittedLick> = found.into_iter().filter(fits).collect();
        let Some(choice) = choose(&fitting.iter().collect::<Vec<_>>(), throw, not) else {
            return 0;
        };
        let (slots, arrives) = (choice.slots(), choice.arrives());
        let name = Some(Arc::from(choice.lick.name.as_str()));
        self.put(name, own.end, slots, arrives.zip(goal.step))
    }

    /// True if a lick that ends there begins on a beat, or in the middle of one of three.
    fn begins_on_a_beat(&self, end: usize, fitted: &FittedLick) -> bool {
        let first = end.checked_sub(fitted.lick.slots.len());
        first.and_then(|first| self.steps.get(first)).is_some_and(|first| {
            let bar = self.song.bars.get(first.bar);
            bar.is_some_and(|bar| {
                let two = Ticks::new(first.length.get() * 2);
                self.in_threes(first) || (first.at - bar.start).is_multiple_of(two)
            })
        })
    }

    /// How many steps of a part of a fill lead on: half of a bar where there is room for a lick before it.
    pub(super) fn tail(&self, part: &Range<usize>) -> usize {
        /// The shortest licks that lead nowhere by themselves.
        const BODY: usize = 4;
        if self.steps.get(part.start).is_some_and(|step| self.in_threes(step)) {
            return part.len().min(LONG_LEAD_IN - 1);
        }
        match part.len() {
            long if long >= LONG_LEAD_IN + BODY => LONG_LEAD_IN,
            some if some >= LEAD_IN + BODY => LEAD_IN,
            few => few.min(LONG_LEAD_IN),
        }
    }

    pub(super) fn in_threes(&self, step: &Step) -> bool {
        let bar = self.song.bars.get(step.bar);
        bar.is_some_and(|bar| bar.gait == Meter::SixEight)
    }

    /// Puts a lick that leads nowhere by itself into the last of some steps. Gives the number that it took.
    pub(super) fn body(
        &mut self,
        own: Range<usize>,
        most: usize,
        not: &[Option<Arc<str>>],
    ) -> Option<usize> {
        let last = self.steps.get(own.end.checked_sub(1)?).copied()?;
        let room = own.len().min(most);
        let found = self.licks(Purpose::Fill, &last, None);
        let next = self.steps.get(own.end).copied();
        let fits = |fitted: &FittedLick| {
            let length = fitted.lick.slots.len();
            let even = self.begins_on_a_beat(own.end, fitted);
            length <= room
                && even
                && self.sits(fitted, own.end, next.as_ref())
                && self.reaches(fitted, own.end, next)
        };
        let mut fitting: Vec<FittedLick> = found.into_iter().filter(fits).collect();
        // The shortest are for where there is no room for more.
        let longest = fitting.iter().map(|fitted| fitted.lick.slots.len()).max().unwrap_or(0);
        fitting.retain(|fitted| fitted.lick.slots.len() > SHORT || longest <= SHORT);
        let throw = self.dice_of_pass(b'f', &last);
        let choice = choose(&fitting.iter().collect::<Vec<_>>(), throw, not)?;
        let (name, slots) = (Arc::from(choice.lick.name.as_str()), choice.slots());
        Some(self.put(Some(name), own.end, slots, None)).filter(|taken| *taken > 0)
    }

    /// The last bar before the last chord, if some steps end there.
    pub(super) fn ending(&mut self, own: Range<usize>) -> bool {
        let Some(last) = own.end.checked_sub(1).and_then(|last| self.steps.get(last)).copied()
        else {
            return false;
        };
        let ends = self
            .song
            .bars
            .get(last.bar + 1)
            .is_some_and(|bar| matches!(bar.kind, BarKind::FinalHit | BarKind::ColdEnd));
        let ends = ends && self.steps.get(own.end).is_none_or(|next| next.bar > last.bar + 1);
        let job = self.job(&last);
        if !ends || !matches!(job, Job::Roll | Job::RollSoft | Job::RollWith | Job::Fill) {
            return false;
        }
        let steps = self.steps.get(own.clone()).unwrap_or_default();
        let unsung = steps.iter().rev().take_while(|step| !step.sung && step.open).count();
        let found = self.licks(Purpose::Ending, &last, None);
        let home: Vec<FittedLick> = match self.chord(&last) {
            Some(chord) => self.licks(Purpose::Ending, &last, Some(chord)),
            None => Vec::new(),
        };
        let fits = |fitted: &FittedLick| {
            let length = fitted.lick.slots.len();
            let free = length < own.len() || self.takes_over(fitted, own.start);
            length <= unsung
                && free
                && self.sits(fitted, own.end, None)
                && self.reaches(fitted, own.end, None)
        };
        let fitting: Vec<FittedLick> = found.into_iter().chain(home).filter(fits).collect();
        let throw = self.dice(b'e', &last);
        let all: Vec<&FittedLick> = fitting.iter().collect();
        let Some(choice) = choose(&all, throw, std::slice::from_ref(&self.last)) else {
            return false;
        };
        let (name, slots) = (Arc::from(choice.lick.name.as_str()), choice.slots());
        // It begins with its own note, whatever would have arrived there.
        if let Some(first) = self.steps.get(own.end.saturating_sub(slots.len())) {
            for figure in &mut self.made {
                figure.notes.retain(|note| !(note.arrives && note.at == first.at));
            }
        }
        self.put(Some(name), own.end, slots, None);
        true
    }

    /// True if nothing arrives where a lick begins, or its own first step arrives as well, on the root or the third by
    /// other fingers than were wanted last.
    fn takes_over(&self, fitted: &FittedLick, first: usize) -> bool {
        let Some(step) = self.steps.get(first) else { return false };
        // A fill is made from its end: what was made last need not be what arrives.
        let arrives_here = |figure: &&Figure| {
            figure.notes.last().is_some_and(|note| note.arrives && note.at == step.at)
        };
        let Some(before) = self.made.iter().find(arrives_here) else { return true };
        let used = before.notes.iter().rev().find(|note| note.at < step.at);
        let used: Vec<_> = used.into_iter().flat_map(|note| note.slot.notes()).collect();
        let slots = fitted.slots();
        let own = slots.first().map_or(&[][..], LickSlot::notes);
        let free = own.iter().all(|note| {
            note.finger.is_some() && used.iter().all(|other| other.finger != note.finger)
        });
        let tones = self.chord(step).map(|chord| {
            let root = chord.root.pitch_class();
            [Some(root), chord.quality.third().map(|third| (root + third) % 12)]
        });
        let arrives = own.iter().any(|note| {
            let class = sounding(note.string, note.ends_at(), self.capo).pitch_class();
            tones.is_some_and(|tones| tones.contains(&Some(class)))
        });
        free && arrives
    }
}
