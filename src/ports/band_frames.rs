//! Which frame of the server the band's time is at, told by its output to the inputs of this process.
//!
//! After a server has lost time, what is heard of the band is behind the clock until the output has followed. Who
//! plays to it is behind as well, and must not be told so: what comes in is put on the band's time by its frame,
//! as what goes out is.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, Ordering};
use std::time::Instant;

use crate::time::Nanos;

/// The band's output; a process has one server.
static BAND: BandFrames = BandFrames::new();

/// What times are counted from between the two, whatever their own clocks count from.
static BASE: OnceLock<Instant> = OnceLock::new();

/// A period is half a second at most; what was told longer ago than this says nothing of now.
const LASTS: i64 = 2_000_000_000;

/// How often a reader tries, who comes just while it is told.
const TRIES: u32 = 16;

/// A frame and its time, told by one thread and read by others; neither waits.
struct BandFrames {
    /// True while there is an output that tells.
    told: AtomicBool,
    /// Odd while it is being told, and another each time.
    turn: AtomicU32,
    frame: AtomicU32,
    at: AtomicI64,
}

impl BandFrames {
    const fn new() -> Self {
        Self {
            told: AtomicBool::new(false),
            turn: AtomicU32::new(0),
            frame: AtomicU32::new(0),
            at: AtomicI64::new(0),
        }
    }

    fn tell(&self, frame: u32, at: i64) {
        let turn = self.turn.load(Ordering::Relaxed);
        self.turn.store(turn.wrapping_add(1), Ordering::SeqCst);
        self.frame.store(frame, Ordering::SeqCst);
        self.at.store(at, Ordering::SeqCst);
        self.turn.store(turn.wrapping_add(2), Ordering::SeqCst);
        self.told.store(true, Ordering::Release);
    }

    fn forget(&self) {
        self.told.store(false, Ordering::Release);
    }

    fn read(&self) -> Option<(u32, i64)> {
        if !self.told.load(Ordering::Acquire) {
            return None;
        }
        (0..TRIES).find_map(|_| {
            let before = self.turn.load(Ordering::SeqCst);
            let read = (self.frame.load(Ordering::SeqCst), self.at.load(Ordering::SeqCst));
            let after = self.turn.load(Ordering::SeqCst);
            (before == after && before.is_multiple_of(2)).then_some(read)
        })
    }

    /// The time of a frame at so many a second; `None` where nothing is known of that.
    fn time_of(&self, frame: u32, rate: u32) -> Option<i64> {
        let (known, at) = self.read()?;
        let since = i64::from(frame.wrapping_sub(known).cast_signed());
        let since = since * 1_000_000_000 / i64::from(rate.max(1));
        (since.abs() < LASTS).then(|| at.saturating_add(since))
    }
}

/// How long after the base a clock begins, in nanoseconds.
fn begins(epoch: Instant) -> i64 {
    let base = *BASE.get_or_init(|| epoch);
    let nanos = |span: std::time::Duration| i64::try_from(span.as_nanos()).unwrap_or(i64::MAX);
    match epoch.checked_duration_since(base) {
        Some(after) => nanos(after),
        None => -nanos(base.saturating_duration_since(epoch)),
    }
}

/// The output's end. Dropped, nothing is known any more.
pub(super) struct BandTeller {
    begins: i64,
}

impl BandTeller {
    /// For due times that count from `epoch`.
    pub(super) fn new(epoch: Instant) -> Self {
        Self { begins: begins(epoch) }
    }

    /// A frame, by the server's count, and the due time that falls on it. Neither waits nor allocates.
    pub(super) fn tell(&self, frame: u32, at: Nanos) {
        BAND.tell(frame, at.0.saturating_add(self.begins));
    }
}

impl Drop for BandTeller {
    fn drop(&mut self) {
        BAND.forget();
    }
}

/// An input's end.
pub(super) struct BandAsker {
    begins: i64,
    rate: u32,
}

impl BandAsker {
    /// For a server of `rate` frames a second, and times that count from `epoch`.
    pub(super) fn new(epoch: Instant, rate: u32) -> Self {
        Self { begins: begins(epoch), rate }
    }

    /// The band's time at a frame, by the server's count; `None` where no band plays to that server. Neither waits
    /// nor allocates.
    pub(super) fn time_of(&self, frame: u32) -> Option<Nanos> {
        Some(Nanos(BAND.time_of(frame, self.rate)?.saturating_sub(self.begins)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicBool;

    #[test]
    fn a_frames_time_is_the_bands() {
        let band = BandFrames::new();
        assert_eq!(band.time_of(5, 48_000), None);
        band.tell(1_000, 7_000_000_000);
        assert_eq!(band.time_of(1_480, 48_000), Some(7_010_000_000));
        assert_eq!(band.time_of(520, 48_000), Some(6_990_000_000));
        assert_eq!(band.time_of(1_000 + 3 * 48_000, 48_000), None, "too long ago");
        // The server's count wraps around.
        band.tell(u32::MAX - 9, 9_000_000_000);
        assert_eq!(band.time_of(470, 48_000), Some(9_010_000_000));
        band.forget();
        assert_eq!(band.time_of(470, 48_000), None);
    }

    #[test]
    fn what_is_read_was_told_together() {
        let band = BandFrames::new();
        let over = AtomicBool::new(false);
        std::thread::scope(|scope| {
            scope.spawn(|| {
                for turn in 0..200_000_u32 {
                    band.tell(turn, i64::from(turn) * 3);
                }
                over.store(true, Ordering::Release);
            });
            while !over.load(Ordering::Acquire) {
                if let Some((frame, at)) = band.read() {
                    assert_eq!(at, i64::from(frame) * 3);
                }
            }
        });
        assert_eq!(band.read(), Some((199_999, 599_997)));
    }
}
