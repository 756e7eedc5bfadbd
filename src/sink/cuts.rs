use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU32, Ordering};

use crate::time::Nanos;

/// Messages that may wait at once.
pub(super) const CAPACITY: usize = 4096;

/// Room for the cuts of all messages that wait, and as many again.
const CUTS: usize = 2 * CAPACITY;

/// No cut: later than every due time.
const NEVER: i64 = i64::MAX;

/// Which of the messages in a queue were taken back.
///
/// Messages can't be fetched out of a queue without a lock, so each carries the epoch it was queued
/// in, and every taking back begins a new epoch with a cut: what is older and due at the cut or later
/// is void, and the reader passes over it. An epoch is only left once a message was queued in it, so
/// those that wait span no more epochs than there is room for messages, and no cut is written over
/// while a message waits that it may concern. Cuts never fall from one epoch to the next (an earlier
/// one takes back the later ones' messages too, so it is written into those as well); therefore the
/// one cut after a message's epoch decides.
struct Cuts {
    epoch: AtomicU32,
    /// The cut that each epoch began with, at the epoch's place modulo [`CUTS`].
    cuts: Box<[AtomicI64; CUTS]>,
}

impl Cuts {
    fn of(&self, epoch: u32) -> &AtomicI64 {
        &self.cuts[epoch as usize % CUTS]
    }
}

/// The end of the thread that queues.
pub(super) struct Cutter {
    cuts: Arc<Cuts>,
    epoch: u32,
    /// True once something was queued in this epoch.
    used: bool,
}

/// The end of the thread that reads.
pub(super) struct CutReader {
    cuts: Arc<Cuts>,
    /// The epoch and its cut that were seen last.
    seen: (u32, i64),
}

/// Both ends.
pub(super) fn cuts() -> (Cutter, CutReader) {
    let cuts = Box::new([const { AtomicI64::new(NEVER) }; CUTS]);
    let cuts = Arc::new(Cuts { epoch: AtomicU32::new(0), cuts });
    let cutter = Cutter { cuts: Arc::clone(&cuts), epoch: 0, used: false };
    (cutter, CutReader { cuts, seen: (0, NEVER) })
}

impl Cutter {
    /// The epoch for a message.
    pub(super) const fn epoch(&self) -> u32 {
        self.epoch
    }

    /// A message was queued in this epoch.
    pub(super) const fn queued(&mut self) {
        self.used = true;
    }

    /// Takes back all that was queued so far and is due at `from` or later.
    pub(super) fn cut(&mut self, from: Nanos) {
        let newest = self.epoch;
        if self.used {
            self.epoch = newest.wrapping_add(1);
            self.cuts.of(self.epoch).store(from.0, Ordering::Release);
            self.used = false;
        }
        // Reaches as far back as messages can wait, and most often not one step.
        for back in 0..CAPACITY as u32 {
            let cut = self.cuts.of(newest.wrapping_sub(back));
            if cut.load(Ordering::Relaxed) <= from.0 {
                break;
            }
            cut.store(from.0, Ordering::Release);
        }
        self.cuts.epoch.store(self.epoch, Ordering::Release);
    }
}

impl CutReader {
    /// The cut that has come since the last call, if one has; the earliest if there were several.
    pub(super) fn look(&mut self) -> Option<Nanos> {
        let load = |epoch| self.cuts.of(epoch).load(Ordering::Acquire);
        let now = self.cuts.epoch.load(Ordering::Acquire);
        let newest = load(now);
        let (epoch, cut) = std::mem::replace(&mut self.seen, (now, newest));
        if now == epoch {
            return (newest != cut).then_some(Nanos(newest));
        }
        // Since the last look, first the old epoch's own cut may have become an earlier one.
        let old = Some(load(epoch)).filter(|&old| old != cut).unwrap_or(NEVER);
        Some(Nanos(old.min(load(epoch.wrapping_add(1))).min(newest)))
    }

    /// True if a message was taken back.
    pub(super) fn is_void(&self, epoch: u32, due: Nanos) -> bool {
        epoch != self.seen.0 && due.0 >= self.cuts.of(epoch.wrapping_add(1)).load(Ordering::Acquire)
    }
}
