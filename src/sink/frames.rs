//! Messages on their exact frames: what a server that works in periods of frames needs, apart from
//! the server itself. One thread queues messages by time; the server's own thread asks, once a
//! period, for those that fall into it. Neither waits for the other, and nothing is allocated after
//! the queue is made.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};

use rtrb::{Consumer, Producer, RingBuffer};

use super::AT_ONCE;
use super::cuts::{CAPACITY, CutReader, Cutter, cuts};
use super::frame_map::{FrameMap, Slack};
use super::written_notes::WrittenNotes;
use crate::perform::Message;
use crate::time::Nanos;

/// The most messages written in one period. JACK loses what comes after 2,047 without an error.
const MOST_IN_A_PERIOD: usize = 2047;

/// When a period starts is known no better than that on a busy machine.
const START_OFF: i64 = 500_000;

/// Taking back is a matter of microseconds; for so long its thread may be put aside meanwhile.
const TAKING_BACK: i64 = 3_000_000;

/// The share of a second by which a note-on comes too late to be music: a server that stood still would
/// strike at once all that it missed.
const TOO_LATE: i64 = 10;

/// One period of the server.
#[derive(Clone, Copy, Debug)]
pub struct Cycle {
    /// The server's count of frames at its start; wraps around.
    pub first_frame: u32,
    /// Its length.
    pub frames: u32,
    /// When it starts, on the clock of due times.
    pub starts_at: Nanos,
}

#[derive(Clone, Copy, Debug)]
struct Queued {
    epoch: u32,
    due: Nanos,
    message: Message,
}

#[derive(Debug, Default)]
struct Shared {
    late: AtomicU64,
    cycles: AtomicU64,
    /// How long before their time by the clock messages may go out, in nanoseconds; below 0 after it,
    /// as with a server that has lost time.
    off: AtomicI64,
}

/// The end that the playing thread holds.
pub struct FrameQueue {
    ring: Producer<Queued>,
    cutter: Cutter,
    rate: u32,
    shared: Arc<Shared>,
}

/// The end that the server's thread holds.
pub struct FrameWriter {
    ring: Consumer<Queued>,
    cuts: CutReader,
    notes: WrittenNotes,
    shared: Arc<Shared>,
    map: FrameMap,
    /// So many frames after its own a note does not begin any more.
    too_late: i64,
    /// The server's count of frames without its wrapping around.
    frame: i64,
    last_first_frame: Option<u32>,
}

/// A queue for a server of `rate` frames a second.
pub fn frame_queue(rate: u32) -> (FrameQueue, FrameWriter) {
    frame_queue_with(rate, Slack::WAVERING)
}

/// The same for a server whose times are to be followed as closely as `slack` says.
pub fn frame_queue_with(rate: u32, slack: Slack) -> (FrameQueue, FrameWriter) {
    let (producer, consumer) = RingBuffer::new(CAPACITY);
    let map = FrameMap::new(rate, slack);
    let shared = Arc::<Shared>::default();
    shared.off.store(map.off().0, Ordering::Relaxed);
    let (cutter, cuts) = cuts();
    let queue = FrameQueue { ring: producer, cutter, rate, shared: Arc::clone(&shared) };
    let writer = FrameWriter {
        ring: consumer,
        cuts,
        notes: WrittenNotes::new(),
        shared,
        map,
        too_late: i64::from(rate) / TOO_LATE,
        frame: 0,
        last_first_frame: None,
    };
    (queue, writer)
}

impl FrameQueue {
    /// Queues a message. False if there is no room: the server has stood still.
    pub fn push(&mut self, due: Nanos, message: Message) -> bool {
        let epoch = self.cutter.epoch();
        let pushed = self.ring.push(Queued { epoch, due, message }).is_ok();
        if pushed {
            self.cutter.queued();
        }
        pushed
    }

    /// How long before its due time a message may be written by a server of such periods: what is
    /// taken back sooner than that has surely not gone out. One period is being written, and another
    /// may begin while the taking back is under way.
    pub fn guard(&self, period: u32) -> Nanos {
        let period = i64::from(period) * 1_000_000_000 / i64::from(self.rate.max(1));
        let off = self.shared.off.load(Ordering::Relaxed);
        Nanos((period + period.min(TAKING_BACK) + off + START_OFF).max(0))
    }

    /// Takes back what is due at `from` or later and has not been written yet; what is due sooner
    /// goes out on its frame. What is queued afterwards must be due at `from` or later, or at once.
    ///
    /// `from` should lie [`Self::guard`] ahead. Should the beginning of a note that is due at `from`
    /// or later have been written all the same, the note is ended.
    pub fn take_back(&mut self, from: Nanos) {
        self.cutter.cut(from);
    }

    /// True if the server has come for everything.
    pub fn is_empty(&self) -> bool {
        self.ring.slots() == CAPACITY
    }

    /// How many messages were written after their frame or came too late to be written.
    pub fn late(&self) -> u64 {
        self.shared.late.load(Ordering::Relaxed)
    }

    /// How many periods the server has run.
    pub fn cycles(&self) -> u64 {
        self.shared.cycles.load(Ordering::Acquire)
    }
}

impl FrameWriter {
    /// Writes what falls into a period: `write` gets the offset in frames from its start, never less
    /// than the one before, and the bytes; it returns false if it has no room, and the message waits
    /// for the next period. What is past its frame is written at once and counted as late; a note that
    /// would begin more than a tenth of a second late is left out and counted so too.
    pub fn cycle(&mut self, cycle: Cycle, mut write: impl FnMut(u32, &[u8]) -> bool) {
        self.messages(cycle, |offset, message| {
            let (bytes, length) = message.bytes();
            write(offset, bytes.get(..length).unwrap_or(&bytes))
        });
    }

    /// [`Self::cycle`] for a reader of messages.
    pub fn messages(&mut self, cycle: Cycle, write: impl FnMut(u32, Message) -> bool) {
        let step = self.last_first_frame.map_or(0, |last| cycle.first_frame.wrapping_sub(last));
        self.frame += i64::from(step.cast_signed());
        self.last_first_frame = Some(cycle.first_frame);
        self.map.watch(self.frame, cycle.starts_at);
        self.shared.off.store(self.map.off().0, Ordering::Relaxed);

        let mut period = Period { offset: 0, written: 0, write };
        while self.write_next(cycle, &mut period) {}
        self.shared.cycles.fetch_add(1, Ordering::Release);
    }

    /// The first frame of the last period, by the server's count, and the due time that falls on it: what is
    /// played to what comes out here was meant for that time, whatever the clock says. `None` before the first
    /// message.
    pub fn due_now(&self) -> Option<(u32, Nanos)> {
        Some((self.last_first_frame?, self.map.time_at(self.frame)?))
    }

    /// Writes, or passes over, the next message. False if there is none for this period.
    fn write_next<W: FnMut(u32, Message) -> bool>(
        &mut self,
        cycle: Cycle,
        period: &mut Period<W>,
    ) -> bool {
        let next = self.ring.peek().ok().copied();
        // Only after the message was seen: so every cut that came before it is known.
        if let Some(from) = self.cuts.look() {
            self.notes.condemn(from);
        }
        while let Some(off) = self.notes.condemned() {
            if !period.write(off) {
                return false;
            }
            self.notes.written(AT_ONCE, off);
        }
        let Some(Queued { epoch, due, message }) = next else { return false };
        if self.cuts.is_void(epoch, due) {
            let _ = self.ring.pop();
            return true;
        }
        let mut late = false;
        if due != AT_ONCE {
            if !self.map.is_set() {
                self.map.set_anchor(due, self.frame, cycle.starts_at);
            }
            let until = self.map.frame_at(due).unwrap_or(self.frame) - self.frame;
            if until >= i64::from(cycle.frames) {
                return false;
            }
            // A correction may just have moved it over the edge of the period before: not late.
            late = until < -self.map.largest_step(cycle.frames);
            if until < -self.too_late && message.begins() {
                let note = matches!(message, Message::NoteOn { .. });
                self.shared.late.fetch_add(u64::from(note), Ordering::Relaxed);
                let _ = self.ring.pop();
                return true;
            }
            period.offset = period.offset.max(u32::try_from(until).unwrap_or(0));
        }
        if !period.write(message) {
            return false;
        }
        self.notes.written(due, message);
        if late {
            self.shared.late.fetch_add(1, Ordering::Relaxed);
        }
        let _ = self.ring.pop();
        true
    }
}

/// What one period has taken so far.
struct Period<W> {
    offset: u32,
    written: usize,
    write: W,
}

impl<W: FnMut(u32, Message) -> bool> Period<W> {
    /// False if it has no room for another message.
    fn write(&mut self, message: Message) -> bool {
        if self.written == MOST_IN_A_PERIOD || !(self.write)(self.offset, message) {
            return false;
        }
        self.written += 1;
        true
    }
}

#[cfg(test)]
#[path = "frames_tests.rs"]
mod tests;
