//! Messages on their exact frames: what a server that works in periods of frames needs, apart from
//! the server itself. One thread queues messages by time; the server's own thread asks, once a
//! period, for those that fall into it. Neither waits for the other, and nothing is allocated after
//! the queue is made.

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};

use rtrb::{Consumer, Producer, RingBuffer};

use super::AT_ONCE;
use crate::perform::Message;
use crate::time::Nanos;

/// Room for messages that wait for their period. The densest music here, three roles strumming six
/// strings sixteen times a second, queues under 100 in the tenth of a second ahead.
const CAPACITY: usize = 4096;

/// The most messages written in one period. JACK loses what comes after 2,047 without an error.
const MOST_IN_A_PERIOD: usize = 2047;

/// Nanoseconds in a second.
const SECOND: i128 = 1_000_000_000;

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

/// How frames follow from times: exactly by the nominal rate, as long as the device keeps it.
///
/// No device's rate is the nominal one by the computer's clock; 100 parts in a million, 0.36 s an
/// hour, are common. So the map is watched, and once it is off by more than [`Self::TOLERATED`] it is
/// moved, one frame at a time and never faster than one in [`Self::STEP_EVERY`], which is under one
/// cent of tempo: no one hears it, and the distance between neighbours is off by a frame at most.
struct FrameMap {
    rate: u32,
    /// A time and its frame. Set by the first message, so that every later one lies by whole
    /// rounding from it.
    anchor: Option<(Nanos, i64)>,
    /// How far the server's frames run ahead of the map, smoothed, in 1/256 frame.
    error: i64,
    correcting: bool,
    next_step: i64,
}

impl FrameMap {
    /// Below this nobody hears it, and a healthy server's jitter stays below: 2 ms.
    const TOLERATED: i64 = 2_000_000;
    /// Correction ends here: 0.1 ms.
    const CORRECTED: i64 = 100_000;
    /// Past this it is no drift, the server has lost or skipped time: 100 ms.
    const LOST: i64 = 100_000_000;
    /// Frames between two corrections of one frame.
    const STEP_EVERY: i64 = 2_000;
    /// Of the smoothing: about so many periods.
    const SMOOTHING: i64 = 64;

    fn frames(&self, span: i64) -> i64 {
        // Rounded to the nearest. Held in i128: at 192 kHz an i64 would overflow after 13 hours.
        let frames = (i128::from(span) * i128::from(self.rate) + SECOND / 2).div_euclid(SECOND);
        i64::try_from(frames).unwrap_or(if span < 0 { i64::MIN } else { i64::MAX })
    }

    fn frame_at(&self, time: Nanos) -> Option<i64> {
        let (anchor, frame) = self.anchor?;
        Some(frame.saturating_add(self.frames(time.0.saturating_sub(anchor.0))))
    }

    fn set_anchor(&mut self, at: Nanos, cycle_frame: i64, starts_at: Nanos) {
        let ahead = self.frames(at.0.saturating_sub(starts_at.0));
        self.anchor = Some((at, cycle_frame.saturating_add(ahead)));
        self.error = 0;
        self.correcting = false;
    }

    /// Compares the map with where the server really is at the start of a period.
    fn watch(&mut self, cycle_frame: i64, starts_at: Nanos) {
        let (Some(expected), Some((_, frame))) = (self.frame_at(starts_at), &mut self.anchor)
        else {
            return;
        };
        let ahead = cycle_frame - expected;
        let in_frames = |nanos: i64| nanos * i64::from(self.rate) / 1_000_000_000;
        if ahead.abs() > in_frames(Self::LOST) {
            *frame += ahead;
            self.error = 0;
            return;
        }
        self.error += (ahead * 256 - self.error) / Self::SMOOTHING;
        let off = self.error.abs();
        self.correcting =
            off > 256 * in_frames(if self.correcting { Self::CORRECTED } else { Self::TOLERATED });
        if self.correcting && cycle_frame >= self.next_step {
            let step = self.error.signum();
            *frame += step;
            self.error -= step * 256;
            self.next_step = cycle_frame + Self::STEP_EVERY;
        }
    }
}

#[derive(Clone, Copy, Debug)]
struct Queued {
    epoch: u32,
    due: Nanos,
    message: Message,
}

#[derive(Debug, Default)]
struct Shared {
    /// Raised to take back what was queued before.
    epoch: AtomicU32,
    late: AtomicU64,
    cycles: AtomicU64,
}

/// The end that the playing thread holds.
pub struct FrameQueue {
    ring: Producer<Queued>,
    shared: Arc<Shared>,
}

/// The end that the server's thread holds.
pub struct FrameWriter {
    ring: Consumer<Queued>,
    shared: Arc<Shared>,
    map: FrameMap,
    /// The server's count of frames without its wrapping around.
    frame: i64,
    last_first_frame: Option<u32>,
}

/// A queue for a server of `rate` frames a second.
pub fn frame_queue(rate: u32) -> (FrameQueue, FrameWriter) {
    let (producer, consumer) = RingBuffer::new(CAPACITY);
    let shared = Arc::<Shared>::default();
    let map = FrameMap { rate, anchor: None, error: 0, correcting: false, next_step: 0 };
    (
        FrameQueue { ring: producer, shared: Arc::clone(&shared) },
        FrameWriter { ring: consumer, shared, map, frame: 0, last_first_frame: None },
    )
}

impl FrameQueue {
    /// Queues a message. False if there is no room: the server has stood still.
    pub fn push(&mut self, due: Nanos, message: Message) -> bool {
        let epoch = self.shared.epoch.load(Ordering::Relaxed);
        self.ring.push(Queued { epoch, due, message }).is_ok()
    }

    /// Takes back all that has not been written yet.
    pub fn take_back(&mut self) {
        self.shared.epoch.fetch_add(1, Ordering::Release);
    }

    /// True if the server has come for everything.
    pub fn is_empty(&self) -> bool {
        self.ring.slots() == CAPACITY
    }

    /// How many messages were written after their frame.
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
    /// for the next period. What is past its frame is written at once and counted as late.
    pub fn cycle(&mut self, cycle: Cycle, mut write: impl FnMut(u32, &[u8]) -> bool) {
        let step = self.last_first_frame.map_or(0, |last| cycle.first_frame.wrapping_sub(last));
        self.frame += i64::from(step.cast_signed());
        self.last_first_frame = Some(cycle.first_frame);
        self.map.watch(self.frame, cycle.starts_at);

        let mut offset = 0;
        let mut written = 0;
        while let Ok(&Queued { epoch, due, message }) = self.ring.peek() {
            let now = self.shared.epoch.load(Ordering::Acquire);
            // Taken back. An epoch ahead of `now` can't be: it was raised before that was queued.
            if epoch != now {
                let _ = self.ring.pop();
                continue;
            }
            let mut late = false;
            if due != AT_ONCE {
                if self.map.anchor.is_none() {
                    self.map.set_anchor(due, self.frame, cycle.starts_at);
                }
                let until = self.map.frame_at(due).unwrap_or(self.frame) - self.frame;
                if until >= i64::from(cycle.frames) {
                    break;
                }
                // A correction may just have moved it over the edge of the period before: not late.
                late = until < -1;
                offset = offset.max(u32::try_from(until).unwrap_or(0));
            }
            let (bytes, length) = message.bytes();
            let bytes = bytes.get(..length).unwrap_or(&bytes);
            if written == MOST_IN_A_PERIOD || !write(offset, bytes) {
                break;
            }
            written += 1;
            if late {
                self.shared.late.fetch_add(1, Ordering::Relaxed);
            }
            let _ = self.ring.pop();
        }
        self.shared.cycles.fetch_add(1, Ordering::Release);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::MidiNote;

    const RATE: u32 = 48_000;
    const PERIOD: u32 = 128;

    fn on(pitch: u8) -> Message {
        let pitch = MidiNote::new(pitch).unwrap();
        Message::NoteOn { channel: 0, pitch, velocity: 64 }
    }

    /// A server whose device runs `drift` parts in a million fast, from frame `first` on.
    struct Server {
        first: u32,
        count: i64,
        drift: i64,
    }

    impl Server {
        fn new(drift: i64) -> Self {
            // So near the end that the count of frames wraps around in every test.
            Self { first: u32::MAX - 1000, count: 0, drift }
        }

        fn next(&mut self, jitter: i64) -> Cycle {
            let nominal = i128::from(self.count) * SECOND / i128::from(RATE);
            let starts = nominal * 1_000_000 / i128::from(1_000_000 + self.drift);
            let cycle = Cycle {
                first_frame: self.first.wrapping_add(self.count as u32),
                frames: PERIOD,
                starts_at: Nanos(starts as i64 + jitter),
            };
            self.count += i64::from(PERIOD);
            cycle
        }
    }

    /// Plays a note every 10.37 ms, queued 20 ms ahead, and gives the frame of each.
    fn play(server: &mut Server, seconds: i64, mut jitter: impl FnMut() -> i64) -> Vec<i64> {
        let (mut queue, mut writer) = frame_queue(RATE);
        let mut frames = Vec::new();
        // Later than the first period by more than any jitter.
        let mut next = Nanos(5_000_000);
        while server.count < seconds * i64::from(RATE) {
            let base = server.count;
            let cycle = server.next(jitter());
            while next.0 < cycle.starts_at.0 + 20_000_000 {
                assert!(queue.push(next, on(60)));
                next.0 += 10_370_000;
            }
            writer.cycle(cycle, |offset, _| {
                assert!(offset < PERIOD);
                frames.push(base + i64::from(offset));
                true
            });
        }
        assert_eq!(queue.late(), 0);
        frames
    }

    fn nominal(index: usize) -> i64 {
        (index as i64 * 10_370_000 * i64::from(RATE) + 500_000_000) / 1_000_000_000
    }

    #[test]
    fn a_steady_server_gets_every_message_on_its_exact_frame() {
        // Period starts known to half a millisecond only, as on a busy machine.
        let mut state = 1u32;
        let jitter = move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            i64::from(state % 1_000_000) - 500_000
        };
        let frames = play(&mut Server::new(0), 600, jitter);
        assert!(frames.len() > 57_000);
        for (index, frame) in frames.iter().enumerate() {
            assert_eq!(frame - frames[0], nominal(index), "message {index}");
        }
    }

    #[test]
    fn a_drifting_device_is_followed_without_jumps() {
        for drift in [-150, 150] {
            let frames = play(&mut Server::new(drift), 3 * 3600, || 0);
            for (index, pair) in frames.windows(2).enumerate() {
                let expected = nominal(index + 1) - nominal(index);
                assert!((pair[1] - pair[0] - expected).abs() <= 1, "message {index}");
            }
            let last = frames.len() - 1;
            let true_frame = nominal(last) as f64 * (1.0 + drift as f64 * 1e-6);
            let off = (frames[last] - frames[0]) as f64 - true_frame;
            assert!(off.abs() < 0.003 * f64::from(RATE), "{drift}: off by {off} frames");
        }
    }

    #[test]
    fn what_is_past_goes_out_at_once_and_is_counted() {
        let (mut queue, mut writer) = frame_queue(RATE);
        let mut server = Server::new(0);
        assert!(queue.push(Nanos(0), on(60)));
        assert!(queue.push(Nanos(1_000_000), on(61)));
        assert!(queue.push(Nanos(1_000_000_000), on(62)));
        writer.cycle(server.next(0), |_, _| true);
        // The server skips two seconds.
        server.count += 2 * i64::from(RATE);
        let mut got = Vec::new();
        writer.cycle(server.next(0), |offset, bytes| {
            got.push((offset, bytes.to_vec()));
            true
        });
        assert_eq!(got, [(0, vec![0x90, 62, 64])]);
        assert_eq!(queue.late(), 1);
    }

    #[test]
    fn what_is_taken_back_never_goes_out_but_what_follows_does() {
        let (mut queue, mut writer) = frame_queue(RATE);
        let mut server = Server::new(0);
        let mut got = Vec::new();
        assert!(queue.push(Nanos(0), on(60)) && queue.push(Nanos(50_000_000), on(61)));
        writer.cycle(server.next(0), |_, bytes| {
            got.push(bytes[1]);
            true
        });
        queue.take_back();
        assert!(queue.push(AT_ONCE, on(62)));
        for _ in 0..50 {
            writer.cycle(server.next(0), |_, bytes| {
                got.push(bytes[1]);
                true
            });
        }
        assert_eq!(got, [60, 62]);
        assert_eq!((queue.late(), queue.is_empty()), (0, true));
    }

    #[test]
    fn a_full_period_leaves_the_rest_to_the_next() {
        let (mut queue, mut writer) = frame_queue(RATE);
        let mut server = Server::new(0);
        (0..3000).for_each(|_| assert!(queue.push(AT_ONCE, on(60))));
        let mut counts = [0; 3];
        for count in &mut counts {
            writer.cycle(server.next(0), |_, _| {
                *count += 1;
                true
            });
        }
        assert_eq!(counts, [2047, 953, 0]);
        (0..CAPACITY).for_each(|_| assert!(queue.push(AT_ONCE, on(60))));
        assert!(!queue.push(AT_ONCE, on(60)), "no room is said, not hidden");
    }

    #[test]
    fn offsets_never_go_back() {
        let (mut queue, mut writer) = frame_queue(RATE);
        assert!(queue.push(Nanos(2_000_000), on(60)));
        assert!(queue.push(Nanos(1_000_000), on(61)));
        assert!(queue.push(AT_ONCE, on(62)));
        let mut offsets = Vec::new();
        let cycle = Cycle { first_frame: 0, frames: PERIOD, starts_at: Nanos(0) };
        writer.cycle(cycle, |offset, _| {
            offsets.push(offset);
            true
        });
        assert_eq!(offsets, [96, 96, 96]);
    }
}
