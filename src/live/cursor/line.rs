//! The bar line: what comes after it, and going over it.

use super::{Cursor, Place, Scores, Segment, Swap, Tail, score};
use crate::chart::RoleSet;
use crate::perform::{CLICK_CHANNEL, Message};

/// What comes after the next bar line, as things stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Coming {
    /// The score's slot.
    pub slot: usize,
    /// The bar; `None` where all is over.
    pub bar: Option<usize>,
    /// Bars of clicks before it.
    pub count_in: u32,
    /// Who will be out by the rule of chairs.
    pub out: RoleSet,
    /// True if the music does not go on there as written, so that what sounds ends at the line.
    pub breaks: bool,
    /// True if a round of the loop is over there.
    pub wraps: bool,
    /// True if a pass begins.
    pub begins: bool,
    /// True before the form: the first pass is yet to begin.
    pub kickoff: bool,
}

impl Coming {
    pub(super) const NONE: Self = Self {
        slot: 0,
        bar: None,
        count_in: 0,
        out: RoleSet::EMPTY,
        breaks: false,
        wraps: false,
        begins: false,
        kickoff: false,
    };
}

impl Cursor {
    /// The score handed over, if its turn comes at the next line.
    pub(super) fn swap_at_line(&self, scores: &Scores, wraps: bool) -> Option<Swap> {
        let loops = score(scores, self.slot).is_some_and(|score| score.round.is_some());
        self.swap.filter(|swap| swap.at == Place::BarLine || wraps || !loops)
    }

    fn coming(&self, scores: &Scores) -> Option<Coming> {
        let now = score(scores, self.slot)?;
        let (in_order, wraps) = match self.segment {
            Segment::Bar => {
                let after = self.bar + 1;
                let wraps = now.round.is_some_and(|round| after.is_multiple_of(round));
                let first = now.round.map(|_| 0);
                (if after < now.bars.len() { Some(after) } else { first }, wraps)
            }
            Segment::CountIn { .. } => (Some(self.bar), false),
            Segment::Paused | Segment::Over | Segment::Ended => return None,
        };
        let wraps = wraps && self.jump.is_none();
        if wraps && self.rounds_left.is_some_and(|left| left <= 1) {
            return None;
        }
        let swap = self.swap_at_line(scores, wraps);
        let slot = swap.map_or(self.slot, |swap| swap.slot);
        let new = score(scores, slot)?;
        let asked = self.jump.or(swap.and_then(|swap| swap.from));
        let bar = match (asked, in_order) {
            (Some(number), hint) => new.find(number, hint.unwrap_or(0)),
            (None, Some(bar)) if swap.is_some() => new.find(now.bars.get(bar)?.number, bar),
            (None, Some(bar)) => bar,
            // Past the end only a loop goes on.
            (None, None) => swap.and(new.round).map(|_| 0)?,
        };
        let bar_there = new.bars.get(bar)?;
        let counting = matches!(self.segment, Segment::CountIn { .. });
        let goes_on = counting && self.entered && self.jump.is_none() && swap.is_none();
        let begins = !self.begun || (bar_there.begins && !goes_on);
        Some(Coming {
            slot,
            bar: Some(bar),
            count_in: self.count_in,
            out: self.out_there(begins, new.roles),
            breaks: swap.is_some() || self.jump.is_some() || self.count_in > 0,
            wraps,
            begins,
            kickoff: bar_there.kickoff,
        })
    }

    /// Who will be out in the bar that comes, where `roles` play.
    pub(super) fn out_there(&self, begins: bool, roles: RoleSet) -> RoleSet {
        let pass = if self.begun { self.pass.saturating_add(1) } else { 0 };
        if begins { self.chairs.open_in(pass, roles) } else { self.out }
    }

    /// Finds out anew what comes, after anything that bears on it has changed.
    pub(super) fn foresee(&mut self, scores: &Scores) {
        let coming = self.coming(scores).unwrap_or(Coming::NONE);
        let same = |other: Coming| (other.slot, other.bar, other.count_in);
        if same(coming) != same(self.coming) {
            // What began early for another bar ends with this one.
            self.ringing.strand(self.visit);
            self.coming = coming;
            self.look_for_early(scores);
        } else {
            let out = coming.out;
            let visit = self.visit;
            let leaves = move |role| out.contains(role);
            self.ringing
                .end(super::NOW, |note| note.visit > visit && note.role.is_some_and(leaves));
            self.coming = coming;
        }
    }

    /// Which early notes of the coming bar can still be early.
    fn look_for_early(&mut self, scores: &Scores) {
        (self.early, self.early_from) = (0, 0);
        let Some(line) = self.line(scores) else { return };
        let bar = self.coming.bar.zip(score(scores, self.coming.slot));
        let Some((score, bar)) = bar.and_then(|(bar, score)| Some((score, score.bars.get(bar)?)))
        else {
            return;
        };
        let early = score.notes.iter().skip(bar.from).take(bar.early);
        // At the floor itself is still in time.
        let missed = early.take_while(|note| self.time(line + note.at) < self.floor).count();
        (self.early, self.early_from) = (missed, missed);
    }

    /// Goes over the bar line.
    pub(super) fn cross(&mut self, scores: &Scores) {
        let Some(line) = self.line(scores) else { return };
        let coming = self.coming;
        let was_bar = self.segment == Segment::Bar;
        self.mark = true;
        let Some(bar) = coming.bar else {
            let round = score(scores, self.slot).and_then(|score| score.round);
            if round.is_some_and(|round| was_bar && (self.bar + 1).is_multiple_of(round)) {
                self.round = self.round.saturating_add(1);
            }
            self.segment = Segment::Over;
            self.clock_stop();
            return;
        };
        let tail = score(scores, self.slot).and_then(|score| {
            let bar = score.bars.get(self.bar).filter(|_| was_bar && !coming.breaks)?;
            Some(Tail {
                next: bar.from + self.next,
                to: bar.to,
                head: self.head,
                visit: self.visit,
            })
        });
        self.tail = tail;
        self.visit = self.visit.wrapping_add(1);
        if coming.breaks {
            let visit = self.visit;
            self.ringing.end(line, |note| note.visit < visit);
        }
        if coming.wraps {
            self.round = self.round.saturating_add(1);
            self.rounds_left = self.rounds_left.map(|left| left.saturating_sub(1));
        }
        if let Some(swap) = self.swap_at_line(scores, coming.wraps) {
            self.take_up(scores, swap);
            if let Some(tempo) = swap.tempo {
                self.tie(line, self.time(line));
                self.tempo = self.pace.ask(tempo);
            }
        }
        self.jump = None;
        self.bar = bar;
        self.head = line;
        if coming.count_in > 0 {
            self.entered = false;
            self.count_in = 0;
            self.clock_stop();
            self.full_pace(line);
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

    /// The clicks begin at `head`.
    pub(super) fn click_in(&mut self, scores: &Scores, bars: u32) {
        let bar = score(scores, self.slot).map_or(0, |score| score.click_bar);
        self.next = 0;
        self.segment = Segment::CountIn { bars, length: bar.saturating_mul(i64::from(bars)) };
    }

    /// The bar begins at `head`.
    pub(super) fn enter(&mut self, coming: Coming) {
        self.segment = Segment::Bar;
        self.entered = true;
        self.next = self.early;
        self.cue = 0;
        self.missed = (0, self.early_from);
        if coming.begins {
            self.pass = if self.begun { self.pass.saturating_add(1) } else { 0 };
            self.out = coming.out;
            let (out, head) = (self.out, self.head);
            let leaves = move |role| out.contains(role);
            self.ringing.end(head, |note| note.role.is_some_and(leaves));
        }
        self.begun = self.begun || !coming.kickoff;
    }

    /// Changes over to another score.
    pub(super) fn take_up(&mut self, scores: &Scores, swap: Swap) {
        let (old, new) = (score(scores, self.slot), score(scores, swap.slot));
        self.swap = None;
        self.slot = swap.slot;
        let Some(new) = new else { return };
        if !old.is_some_and(|old| old.same_loop(new)) {
            self.round = 0;
        }
        if self.set_up {
            for message in &new.set_up {
                if !old.is_some_and(|old| old.set_up.contains(message)) {
                    self.say(*message);
                }
            }
        }
    }

    /// Each channel gets its sound, once.
    pub(super) fn set_up(&mut self, scores: &Scores) {
        if let Some(score) = score(scores, self.slot).filter(|_| !self.set_up) {
            score.set_up.iter().for_each(|message| self.say(*message));
            self.set_up = true;
        }
    }

    /// Tells the receiver to drop all notes on the band's channels and the clicks': All Sound Off and
    /// All Notes Off (MIDI 1.0 Detailed Specification, channel mode messages 120 and 123).
    pub(super) fn silence(&mut self, scores: &Scores) {
        for message in silencing(score(scores, self.slot).map_or(RoleSet::EMPTY, |it| it.roles)) {
            self.outbox.push(message);
        }
    }
}

/// The messages that silence the channels of these roles, and the clicks'.
pub(in crate::live) fn silencing(roles: RoleSet) -> impl Iterator<Item = Message> {
    let channels = roles.iter().map(crate::chart::Role::channel).chain([CLICK_CHANNEL]);
    channels.flat_map(|channel| {
        [120, 123].map(|controller| Message::Control { channel, controller, value: 0 })
    })
}
