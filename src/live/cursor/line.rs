//! The bar line: what comes after it, and going over it.

use super::coming::Coming;
use super::{Cursor, NOW, Scores, Segment, Swap, score};
use crate::chart::RoleSet;

impl Cursor {
    /// The score handed over, if its turn comes at the next line.
    pub(super) fn swap_at_line(&self, scores: &Scores, wraps: bool) -> Option<Swap> {
        let loops = self.here.score(scores).is_some_and(|score| score.round.is_some());
        self.pending.swap_at_line(loops, wraps)
    }

    fn coming(&self, scores: &Scores) -> Option<Coming> {
        let (here, pending) = (&self.here, &self.pending);
        let now = here.score(scores)?;
        let (in_order, wraps) = match here.segment {
            Segment::Bar => {
                let after = here.bar + 1;
                let wraps = now.round.is_some_and(|round| after.is_multiple_of(round));
                let first = now.round.map(|_| 0);
                (if after < now.bars.len() { Some(after) } else { first }, wraps)
            }
            Segment::CountIn { .. } => (Some(here.bar), false),
            Segment::Paused | Segment::Over | Segment::Ended => return None,
        };
        let jump = pending.jump();
        let wraps = wraps && jump.is_none();
        if wraps && pending.is_last_round() {
            return None;
        }
        let swap = self.swap_at_line(scores, wraps);
        let slot = swap.map_or(here.slot, |swap| swap.slot);
        let new = score(scores, slot)?;
        let asked = jump.or(swap.and_then(|swap| swap.from));
        let bar = match (asked, in_order) {
            (Some(number), hint) => new.find(number, hint.unwrap_or(0)),
            (None, Some(bar)) if swap.is_some() => new.find(now.bars.get(bar)?.number, bar),
            (None, Some(bar)) => bar,
            // Past the end only a loop goes on.
            (None, None) => swap.and(new.round).map(|_| 0)?,
        };
        let bar_there = new.bars.get(bar)?;
        let counting = matches!(here.segment, Segment::CountIn { .. });
        let goes_on = counting && here.entered && jump.is_none() && swap.is_none();
        let begins = self.passes.begins(bar_there.begins && !goes_on);
        Some(Coming {
            slot,
            bar: Some(bar),
            count_in: pending.count_in,
            out: self.out_there(begins, new.roles),
            breaks: swap.is_some() || jump.is_some() || pending.count_in > 0,
            wraps,
            begins,
            kickoff: bar_there.kickoff,
        })
    }

    /// Who will be out in the bar that comes, where `roles` play.
    pub(super) fn out_there(&self, begins: bool, roles: RoleSet) -> RoleSet {
        self.audible.out_in(begins.then(|| self.passes.next()), roles)
    }

    /// Finds out anew what comes, after anything that bears on it has changed.
    pub(super) fn foresee(&mut self, scores: &Scores) {
        let coming = self.coming(scores).unwrap_or(Coming::NONE);
        let visit = self.here.visit;
        if coming.is_same_bar(&self.coming) {
            let leaves = move |role| coming.out.contains(role);
            self.ringing.end(NOW, |note| note.visit > visit && note.role.is_some_and(leaves));
            self.coming = coming;
        } else {
            // What began early for another bar ends with this one.
            self.ringing.strand(visit);
            self.coming = coming;
            self.reading.foresee(self.count_missed(scores).unwrap_or(0));
        }
    }

    /// How many early notes of the coming bar can't be early any more.
    fn count_missed(&self, scores: &Scores) -> Option<usize> {
        let line = self.here.line(scores)?;
        let score = score(scores, self.coming.slot)?;
        let bar = score.bars.get(self.coming.bar?)?;
        let early = score.notes.iter().skip(bar.from).take(bar.early);
        // At the floor itself is still in time.
        let timeline = &self.timeline;
        Some(early.take_while(|note| timeline.time(line + note.at) < timeline.floor()).count())
    }

    /// Goes over the bar line.
    pub(super) fn cross(&mut self, scores: &Scores) {
        let Some(line) = self.here.line(scores) else { return };
        let (coming, left) = (self.coming, self.here);
        let was_bar = left.segment == Segment::Bar;
        self.mark = true;
        let Some(bar) = coming.bar else {
            let round = left.score(scores).and_then(|score| score.round);
            if round.is_some_and(|round| was_bar && (left.bar + 1).is_multiple_of(round)) {
                self.passes.wrap();
            }
            self.here.segment = Segment::Over;
            self.clock.stop(&mut self.channels.outbox);
            return;
        };
        let played_on = left.bar_in(scores).filter(|_| was_bar && !coming.breaks);
        self.reading.leave(&left, played_on);
        self.here.count();
        if coming.breaks {
            let visit = self.here.visit;
            self.ringing.end(line, |note| note.visit < visit);
        }
        if coming.wraps {
            self.passes.wrap();
            self.pending.wrap();
        }
        if let Some(swap) = self.swap_at_line(scores, coming.wraps) {
            self.take_up(scores, swap);
            if let Some(tempo) = swap.tempo {
                self.timeline.tie(line, self.timeline.time(line));
                self.timeline.ask(tempo);
            }
        }
        self.pending.take_jump();
        self.here.bar = bar;
        self.here.head = line;
        if coming.count_in > 0 {
            self.here.entered = false;
            self.pending.count_in = 0;
            self.clock.stop(&mut self.channels.outbox);
            self.mark |= self.timeline.full(line);
            self.click_in(scores, coming.count_in);
        } else {
            self.enter(coming);
            self.begin_pace(scores);
            self.clock_at_bar(scores);
        }
        // A loop of one bar comes again: its early notes too.
        self.coming = Coming::NONE;
        self.foresee(scores);
    }

    /// The clicks begin at the segment's head.
    pub(super) fn click_in(&mut self, scores: &Scores, bars: u32) {
        self.reading.click_in();
        self.here.click_in(scores, bars);
        self.clock.align(self.here.bar_head());
    }

    /// The bar begins at the segment's head.
    pub(super) fn enter(&mut self, coming: Coming) {
        self.here.enter();
        self.reading.enter();
        if coming.begins {
            self.passes.begin();
            self.audible.out = coming.out;
            let leaves = move |role| coming.out.contains(role);
            self.ringing.end(self.here.head, |note| note.role.is_some_and(leaves));
        }
        self.passes.play(coming.kickoff);
    }

    /// The bar that was entered is played at full tempo, unless it is slower from its first beat on.
    fn begin_pace(&mut self, scores: &Scores) {
        match self.next_slow(scores) {
            Some((at, _)) if at == self.here.head => self.slow_down(scores),
            _ => self.mark |= self.timeline.full(self.here.head),
        }
    }

    /// The next place where the bar slows down, and how far.
    pub(super) fn next_slow(&self, scores: &Scores) -> Option<(i64, u32)> {
        let slow = self.reading.next_slow(scores, &self.here);
        slow.filter(|_| !self.timeline.follows())
    }

    /// Slows down there.
    pub(super) fn slow_down(&mut self, scores: &Scores) {
        if let Some((at, permille)) = self.next_slow(scores) {
            self.reading.slowed();
            self.mark |= self.timeline.stretch(at, permille);
        }
    }

    /// The clock that is sent is told where the bar that begins stands in the song.
    pub(super) fn clock_at_bar(&mut self, scores: &Scores) {
        if let Some(bar) = self.here.bar_in(scores) {
            let gap = self.timeline.ticks(self.clock.gap());
            let outbox = &mut self.channels.outbox;
            self.clock.begin_bar(bar.place, self.here.head, gap, outbox);
        }
    }

    /// Changes over to another score.
    pub(super) fn take_up(&mut self, scores: &Scores, swap: Swap) {
        let old = self.here.score(scores);
        self.pending.swapped();
        self.here.slot = swap.slot;
        let Some(new) = self.here.score(scores) else { return };
        if !old.is_some_and(|old| old.same_loop(new)) {
            self.passes.loop_anew();
        }
        self.channels.change_over(old, new);
    }

    /// Each channel gets its sound, once.
    pub(super) fn set_up(&mut self, scores: &Scores) {
        if let Some(score) = self.here.score(scores) {
            self.channels.set_up(score);
        }
    }
}
