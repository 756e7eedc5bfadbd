//! What leads from one chord into the next.

use std::ops::Range;
use std::sync::Arc;

use super::approach::{Change, approach};
use super::maker::{Goal, LEAD_IN, LONG_LEAD_IN, Maker, choose};
use crate::backup::Level;
use crate::backup::lick::{FittedLick, LickNote, Purpose};
use crate::backup::stance::Kind;
use crate::backup::steps::{Step, steps_of};
use crate::coverage::Job;
use crate::theory::Chord;
use crate::theory::fretboard::banjo::{Finger, sounding};

const LONG_CHORD: usize = 12;

impl<'a> Maker<'a> {
    /// Leads from the chord of some steps to the one after them.
    pub(super) fn lead_in(&mut self, own: Range<usize>) {
        let Some(goal) = self.goal(own.end) else { return };
        let eighths = self.steps.get(own.start).and_then(|step| self.song.bars.get(step.bar));
        let in_four = eighths.is_some_and(|bar| steps_of(self.song, bar) == 8);
        let long = own.len() >= LONG_CHORD && in_four;
        let most = if long { LONG_LEAD_IN } else { LEAD_IN };
        let room = (own.len() / 2).min(most);
        let not = [self.last.clone()];
        self.lead(own, room, goal, &not);
    }

    /// Puts what leads on into the last steps of some, `room` at most. Gives the number of steps that it took.
    pub(super) fn lead(
        &mut self,
        own: Range<usize>,
        room: usize,
        goal: Goal<'a>,
        not: &[Option<Arc<str>>],
    ) -> usize {
        let Some(last) = own.end.checked_sub(1).and_then(|last| self.steps.get(last)).copied()
        else {
            return 0;
        };
        let (Some(from), Some(stance)) = (self.chord(&last), self.stance(&last)) else { return 0 };
        let job = self.job(&last);
        let same = from.root.pitch_class() == goal.chord.root.pitch_class();
        let in_fill = job == Job::Fill;
        // A written tune says itself where it goes; a break without one is rolls, with what leads on.
        let tune = self.breaks(&last);
        if matches!(job, Job::Vamp | Job::BoomVamp | Job::Rest) || tune || (same && !in_fill) {
            return 0;
        }
        let room = if job == Job::Sparse { room.min(2) } else { room };
        let open = |step: &Step| step.open;
        let tail = self.steps.get(own.clone()).unwrap_or_default();
        let room = tail.iter().rev().take(room).take_while(|step| open(step)).count();
        if room == 0 {
            return 0;
        }
        // The first beat of a bar is its chord's, where there is room after it.
        let begins =
            |step: &Step| self.song.bars.get(step.bar).is_some_and(|bar| bar.start == step.at);
        let after = tail.iter().rev().take(room).take_while(|step| !begins(step)).count();
        let room = if in_fill || after == 0 { room } else { after };
        let first = own.end - room;
        let steps = self.steps.get(first..own.end).unwrap_or_default();
        let sung = steps.iter().any(|step| step.sung);
        let booms = goal.step.is_some_and(|step| self.booms(&step));
        let found = self.licks(Purpose::LeadIn, &last, Some(goal.chord));
        let after = goal.step.and_then(|step| self.stance(&step));
        let up = [Some(stance), after].into_iter().flatten().any(|stance| stance.kind != Kind::Low);
        let in_threes = self.in_threes(&last);
        let fits = |fitted: &FittedLick| {
            let length = fitted.lick.slots.len();
            // Down the neck there are open strings to lead on.
            let place = up || !fitted.lick.is_closed();
            // What comes before it in a fill ends on a beat.
            let even = !in_fill || in_threes || room < LONG_LEAD_IN || length.is_multiple_of(2);
            place
                && even
                && (!booms || self.arrives_on_boom(fitted, goal.chord))
                && length <= room
                && self.sits(fitted, own.end, goal.step.as_ref())
                && self.reaches(fitted, own.end, goal.step)
        };
        let fitting: Vec<FittedLick> = found.into_iter().filter(fits).collect();
        let plain =
            |fitted: &&FittedLick| fitted.lick.level <= Level::LeadIns && !fitted.lick.has_slur();
        // Behind a singer, and for those who learn it, without ornament.
        let throw = if in_fill { self.dice_of_pass(b'l', &last) } else { self.dice(b'l', &last) };
        let often = if in_fill { throw >> 32 & 3 > 0 } else { throw >> 32 & 1 == 1 };
        let dressed = self.player.level == Level::Full && !sung && often;
        let of_choice: Vec<&FittedLick> = if dressed {
            fitting.iter().filter(|fitted| !plain(fitted)).collect()
        } else {
            fitting.iter().filter(plain).collect()
        };
        let of_choice =
            if of_choice.is_empty() { fitting.iter().filter(plain).collect() } else { of_choice };
        // A fill uses its room.
        let longest = of_choice.iter().map(|fitted| fitted.lick.slots.len()).max().unwrap_or(0);
        let full = |fitted: &&FittedLick| !in_fill || fitted.lick.slots.len() == longest;
        let of_choice: Vec<&FittedLick> = of_choice.into_iter().filter(full).collect();
        if let Some(fitted) = choose(&of_choice, throw, not) {
            let (slots, arrives) = (fitted.slots(), fitted.arrives());
            let name = Some(Arc::from(fitted.lick.name.as_str()));
            return self.put(name, own.end, slots, arrives.zip(goal.step));
        }
        let to = goal.step.and_then(|step| self.stance(&step)).unwrap_or(stance);
        let millis = self.millis(last.length);
        let change = Change {
            key: self.song.key,
            capo: self.capo,
            from: (from, stance),
            to: (goal.chord, to),
            booms,
            room: room.min(LEAD_IN),
            millis,
        };
        let Some((slots, arrives)) = approach(change) else { return 0 };
        self.put(None, own.end, slots, Some(arrives).zip(goal.step))
    }

    /// True if a lick arrives on the thumb's downbeat: on the root, low, with the thumb free for it.
    pub(super) fn arrives_on_boom(&self, fitted: &FittedLick, chord: &Chord) -> bool {
        let thumb = |note: &LickNote| note.finger == Some(Finger::Thumb);
        let free = !fitted.lick.slots.last().is_some_and(|slot| slot.notes().iter().any(thumb));
        let arrives = fitted.arrives();
        free && arrives.as_ref().is_some_and(|slot| match slot.notes() {
            [note] => {
                let class = sounding(note.string, note.ends_at(), self.capo).pitch_class();
                matches!(note.string, 3 | 4) && thumb(note) && class == chord.root.pitch_class()
            }
            _ => false,
        })
    }
}
