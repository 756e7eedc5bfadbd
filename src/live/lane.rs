use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};

use super::sounding::Sounding;
use super::{Clock, PlayReport, Slot, Supply};
use crate::perform::Message;
use crate::sink::{AT_ONCE, Losses, MidiOut, SendError};
use crate::time::Nanos;

/// Messages that wait for their time or have just gone. The band strikes eleven strings sixteen times a
/// second at most, so a second of it stays below 400 messages.
const CAPACITY: usize = 4096;

/// A note-on this late is left out, with its note-off: so late it is no music but a noise.
pub(super) const TOO_LATE: i64 = 100_000_000;

/// How far back a message may still lie in a server's queue although its time has come: longer than
/// any period. Of notes that ended since, the end may have been taken back.
const UNSURE: i64 = 1_000_000_000;

/// How often a note-off that the port refuses is tried, and how long after: for a tenth of a second.
const TRIES: u32 = 20;
const TRY_AGAIN: i64 = 5_000_000;

/// A message and when it is due.
#[derive(Clone, Copy, Debug)]
struct Due {
    at: i64,
    message: Message,
}

/// The way to one output: what waits for its time, what has been handed over, and what sounds there.
/// Allocates nothing once it is made.
pub(super) struct Lane {
    slot: Slot,
    out: Box<dyn MidiOut>,
    waiting: VecDeque<Due>,
    handed: VecDeque<Due>,
    /// What sounds once all that was handed over has come due.
    sounding: Sounding,
    /// The latest time of a message that went out at once.
    gone: i64,
    leaving: Option<Leaving>,
}

/// An output that took no message: its notes are still damped, if it will have it.
#[derive(Clone, Copy, Debug)]
struct Leaving {
    tries: u32,
    next: i64,
}

/// The two queues of a lane.
#[derive(Default)]
pub(super) struct Queues(VecDeque<Due>, VecDeque<Due>);

impl Queues {
    pub(super) fn new() -> Self {
        Self(VecDeque::with_capacity(CAPACITY), VecDeque::with_capacity(CAPACITY))
    }
}

impl Lane {
    pub(super) fn new(supply: Supply, queues: Queues) -> Self {
        let Queues(mut waiting, mut handed) = queues;
        waiting.clear();
        handed.clear();
        Self {
            slot: supply.slot,
            out: supply.out,
            waiting,
            handed,
            sounding: Sounding::default(),
            gone: i64::MIN,
            leaving: None,
        }
    }

    pub(super) const fn slot(&self) -> Slot {
        self.slot
    }

    /// The output again, and the queues for the next.
    pub(super) fn end(self) -> (Supply, Queues) {
        (Supply { slot: self.slot, out: self.out }, Queues(self.waiting, self.handed))
    }

    pub(super) fn ahead(&self) -> i64 {
        self.out.ahead().0.max(0)
    }

    pub(super) fn guard(&self) -> i64 {
        self.out.guard().0.max(0)
    }

    pub(super) const fn gone(&self) -> i64 {
        self.gone
    }

    pub(super) fn has_room(&self) -> bool {
        self.waiting.len() < CAPACITY
    }

    pub(super) fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }

    /// When the next message is to be handed over, and whether to the instant.
    pub(super) fn deadline(&self) -> Option<(i64, bool)> {
        if let Some(leaving) = self.leaving {
            return Some((leaving.next, false));
        }
        let ahead = self.ahead();
        self.waiting.front().map(|due| (due.at.saturating_sub(ahead), ahead == 0))
    }

    /// Queues a message; the caller has looked that there is room.
    pub(super) fn push(&mut self, at: Nanos, message: Message) {
        let for_this = self.slot == Slot::Port || !matches!(message, Message::Sync(_));
        if for_this && self.leaving.is_none() && self.has_room() {
            self.waiting.push_back(Due { at: at.0, message });
        }
    }

    /// Hands over all whose time it is.
    pub(super) fn send(&mut self, now: i64, report: &mut PlayReport) -> Result<(), SendError> {
        if self.leaving.is_some() {
            return Ok(());
        }
        let ahead = self.ahead();
        while let Some(&due) = self.waiting.front() {
            let wanted = due.at.saturating_sub(ahead);
            if wanted > now {
                break;
            }
            self.waiting.pop_front();
            match due.message {
                message if message.begins() && now.saturating_sub(due.at) > TOO_LATE => {
                    report.dropped += u64::from(matches!(message, Message::NoteOn { .. }));
                    continue;
                }
                // Marked before, unmarked after: whatever happens in between, it gets a note-off.
                Message::NoteOn { channel, pitch, .. } => self.sounding.set(channel, pitch),
                Message::NoteOff { channel, pitch } if !self.sounding.has(channel, pitch) => {
                    continue;
                }
                _ => {}
            }
            report.latest = report.latest.max(Nanos(now.saturating_sub(wanted)));
            self.out.send(Nanos(due.at), due.message)?;
            if let Message::NoteOff { channel, pitch } = due.message {
                self.sounding.clear(channel, pitch);
            }
            report.sent += 1;
            if ahead == 0 {
                self.gone = self.gone.max(due.at);
            }
            if self.handed.len() == CAPACITY {
                self.handed.pop_front();
            }
            self.handed.push_back(due);
        }
        while self.handed.front().is_some_and(|due| due.at < now.saturating_sub(UNSURE)) {
            self.handed.pop_front();
        }
        Ok(())
    }

    /// Sends at once, past the queue: for what a new output is greeted with.
    pub(super) fn say(&mut self, message: Message) -> Result<(), SendError> {
        self.out.send(AT_ONCE, message)
    }

    /// Takes back what is due from `cut` on.
    pub(super) fn take_back(&mut self, cut: i64) {
        while self.waiting.back().is_some_and(|due| due.at >= cut) {
            self.waiting.pop_back();
        }
        if self.leaving.is_none() && self.handed.back().is_some_and(|due| due.at >= cut) {
            self.out.take_back(Nanos(cut));
            self.forget(cut);
        }
    }

    /// Undoes in the books what was handed over and is due from `cut` on.
    fn forget(&mut self, cut: i64) {
        while let Some(due) = self.handed.back().copied().filter(|due| due.at >= cut) {
            self.handed.pop_back();
            match due.message {
                Message::NoteOn { channel, pitch, .. } => self.sounding.clear(channel, pitch),
                Message::NoteOff { channel, pitch } => self.sounding.set(channel, pitch),
                _ => {}
            }
        }
    }

    /// Takes back whatever can be from `since` on, although some of it may have gone out: counts as
    /// sounding whatever may be.
    fn take_back_unsure(&mut self, now: i64, since: i64, from: Nanos) {
        let _ = catch_unwind(AssertUnwindSafe(|| self.out.take_back(from)));
        self.waiting.clear();
        if self.ahead() == 0 {
            return;
        }
        self.forget(now.saturating_add(self.guard()));
        while let Some(due) = self.handed.pop_back() {
            if due.at <= since {
                break;
            }
            if let Message::NoteOff { channel, pitch } | Message::NoteOn { channel, pitch, .. } =
                due.message
            {
                self.sounding.set(channel, pitch);
            }
        }
        self.handed.clear();
    }

    /// The machine slept since `since`: all that may sound ends at `cut`, and nothing of what was
    /// queued comes any more.
    pub(super) fn wake(&mut self, now: i64, since: i64, cut: i64) {
        if self.leaving.is_some() {
            return;
        }
        self.take_back_unsure(now, since.min(now.saturating_sub(UNSURE)), Nanos(since));
        for message in self.sounding.offs() {
            self.push(Nanos(cut), message);
        }
    }

    pub(super) fn is_lost(&self) -> bool {
        self.out.is_lost()
    }

    /// It took no message. From now on its notes are damped, if it has room again soon.
    pub(super) fn leave(&mut self, now: i64) {
        if self.leaving.is_none() {
            self.take_back_unsure(now, now.saturating_sub(UNSURE), AT_ONCE);
            self.leaving = Some(Leaving { tries: TRIES, next: now });
        }
    }

    /// True if nothing more can be done for what sounds there.
    pub(super) fn has_left(&mut self, now: i64) -> bool {
        let Some(mut leaving) = self.leaving else { return false };
        if now >= leaving.next {
            self.damp();
            leaving.tries = leaving.tries.saturating_sub(1);
            leaving.next = now.saturating_add(TRY_AGAIN);
            self.leaving = Some(leaving);
        }
        self.sounding.is_empty() || leaving.tries == 0
    }

    /// Tries to end each note, once.
    fn damp(&mut self) {
        for message in self.sounding.offs() {
            let result = catch_unwind(AssertUnwindSafe(|| self.out.send(AT_ONCE, message)));
            if let (Ok(Ok(())), Message::NoteOff { channel, pitch }) = (result, message) {
                self.sounding.clear(channel, pitch);
            }
        }
    }

    /// Ends each note now. `finished` if all that was queued may still go out.
    pub(super) fn silence(&mut self, clock: &dyn Clock, finished: bool) {
        if !finished || !self.sounding.is_empty() {
            let now = clock.now().0;
            self.take_back_unsure(now, now.saturating_sub(UNSURE), AT_ONCE);
            for attempt in 0..TRIES {
                if attempt > 0 {
                    // A port that is only full has room again soon.
                    clock.sleep_until(Nanos(clock.now().0.saturating_add(TRY_AGAIN)));
                }
                self.damp();
                if self.sounding.is_empty() {
                    break;
                }
            }
        }
    }

    pub(super) fn losses(&self) -> Losses {
        self.out.losses()
    }

    /// Closes the output.
    pub(super) fn close(self) {
        let out = self.out;
        let _ = catch_unwind(AssertUnwindSafe(|| out.close()));
    }
}
