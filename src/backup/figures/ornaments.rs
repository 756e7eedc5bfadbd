//! Slides, hammer-ons and pull-offs within a roll.

use super::maker::{FASTEST_SLUR, Maker, note};
use super::reach::moves;
use crate::backup::figure::{Figure, first_frets, last_frets};
use crate::backup::lick::{LickNote, LickSlot};
use crate::backup::shift::{Range as Frets, millis_between};
use crate::backup::steps::Step;
use crate::coverage::Job;
use crate::perform::SlurKind;
use crate::style::{Loud, Slot};
use crate::theory::Scale;
use crate::theory::fretboard::banjo::{Finger, SHORT_STRING, sounding};
use crate::time::{Meter, Ticks};

impl Maker<'_> {
    /// Slides, hammer-ons and pull-offs into the notes of a roll, where nobody sings.
    pub(super) fn ornaments(&mut self) {
        let mut found: Vec<Figure> = Vec::new();
        let mut done: Option<usize> = None;
        for (index, step) in self.steps.iter().enumerate() {
            let rolls = matches!(self.job(step), Job::Roll | Job::RollWith | Job::Lead);
            let rolls = rolls && !self.breaks(step);
            let Some(bar) = self.song.bars.get(step.bar).filter(|_| rolls && step.open) else {
                continue;
            };
            let half = Ticks::new(bar.meter.bar().get() / 2);
            let beat = if bar.gait == Meter::ThreeFour { step.length * 2 } else { half };
            let strong = (step.at - bar.start).is_multiple_of(beat);
            // One a bar, and now and then a bar without; behind a break every other bar.
            let throw = self.dice(b's', step) >> 16;
            let leads = self.song.passes.get(bar.pass).is_some_and(|pass| pass.lead.is_some());
            let own = self.job(step) == Job::Lead;
            let without = if leads && !own { throw & 1 == 0 } else { throw & 7 == 0 };
            if !strong || bar.sung != 0 || done == Some(step.bar) || without {
                continue;
            }
            let near = |figure: &Figure| figure.covers(step.at) || figure.covers(step.end());
            let end = self.made.partition_point(|figure| figure.during.start <= step.end());
            let beside = self.made.get(end.saturating_sub(3)..end).unwrap_or_default();
            if beside.iter().any(near) || self.millis(step.length) / 2.0 < FASTEST_SLUR {
                continue;
            }
            // The hand stays on the chord while it slurs.
            let ahead = self.steps.get(index + 1..index + 3).unwrap_or_default();
            if ahead.len() < 2 || ahead.iter().any(|next| next.span != step.span) {
                continue;
            }
            let Some(note) = self.slurred(index, step) else { continue };
            let slot = LickSlot::Notes { notes: vec![note], loud: Loud::Accent, choked: false };
            if !self.comes_in_time(index, step, &slot) {
                continue;
            }
            let during = step.at..step.end();
            let notes = vec![self::note(step, slot, false)];
            found.push(Figure { name: None, during, notes, leads: false });
            done = Some(step.bar);
        }
        self.made.extend(found);
        self.made.sort_by_key(|figure| figure.during.start);
    }

    /// True if the left hand comes to a slur in time from what the patterns and figures before it stop, and away to the
    /// figure after it.
    fn comes_in_time(&self, index: usize, step: &Step, slot: &LickSlot) -> bool {
        /// From one end of the neck to the other takes no longer.
        const FAR: usize = 8;
        let before = self.steps.get(index.saturating_sub(FAR)..index).unwrap_or_default();
        let stopped = before.iter().filter_map(|one| Some((one.at, self.stopped(one)?)));
        let (gone, coming) =
            self.made.split_at(self.made.partition_point(|figure| figure.during.start < step.at));
        let gone = gone.iter().rev().find_map(last_frets).filter(|(at, _)| *at < step.at);
        let coming = coming.iter().find_map(first_frets);
        let own = moves(step, slot);
        let in_time = |(at, from): (Ticks, Frets), (then, to): (Ticks, Frets)| {
            millis_between(from, to) <= self.millis(then - at)
        };
        stopped.chain(gone).all(|from| own.iter().all(|to| in_time(from, *to)))
            && coming.is_none_or(|to| own.iter().all(|from| in_time(*from, to)))
    }

    /// The note that the pattern picks alone at a step, come to from a note of the scale beside it.
    pub(super) fn slurred(&self, index: usize, step: &Step) -> Option<LickNote> {
        let plan = self.plans.get(step.bar)?;
        let before = self.steps.get(..index)?.iter().rev();
        let within = before.take_while(|one| one.bar == step.bar).count();
        let Slot::Strike(strike) = plan.pattern.slots.get(within)? else { return None };
        let mut strings = strike.strings.iter();
        let string = strings.next().filter(|string| *string != SHORT_STRING)?;
        if strings.next().is_some() || strike.bass.is_some() || strike.stroke.is_some() {
            return None;
        }
        let (chord, hand) = (self.chord(step)?, &self.stance(step)?.hand);
        let fret = hand.fret(string)?;
        let scale = Scale::of(self.song.key, chord);
        let class = |fret: u8| sounding(string, fret, self.capo).pitch_class();
        let third = chord.quality.third().map(|third| (chord.root.pitch_class() + third) % 12);
        // The third is come to from the blue one below it as well.
        let fits = |from: u8| {
            let blue = from + 1 == fret && third == Some(class(fret));
            scale.has(i32::from(class(from))) || blue
        };
        let below =
            [1, 2].into_iter().filter_map(|far| fret.checked_sub(far)).find(|from| fits(*from));
        let (from, kind) = match (fret, below) {
            (0, _) => ([2, 1].into_iter().find(|from| fits(*from))?, SlurKind::Pull),
            (_, Some(0)) => (0, SlurKind::Hammer),
            (_, Some(from)) => (from, SlurKind::Slide),
            (_, None) => return None,
        };
        let finger = match string {
            3 | 4 => Finger::Thumb,
            2 => Finger::Index,
            _ => Finger::Middle,
        };
        Some(LickNote { string, fret: from, finger: Some(finger), slur: Some((kind, fret)) })
    }
}
