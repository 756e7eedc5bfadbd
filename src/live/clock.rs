use std::sync::atomic::{AtomicI64, Ordering};

use crate::time::Nanos;

/// How long before a deadline sleep ends and spinning begins. A thread at ordinary priority on an
/// idle machine is woken up to 0.7 ms late (p99, measured), so 1 ms of spinning hides that; twenty
/// chords a second cost 2 % of one core.
pub(super) const SPIN: Nanos = Nanos(1_000_000);

/// Time as the playing thread sees it. Deadlines are absolute, so waiting adds up no error.
pub trait Clock: Send + Sync {
    /// The time now. Never goes back.
    fn now(&self) -> Nanos;

    /// Sleeps until about `deadline`, longer by what the system takes to wake a thread, and shorter if the thread is
    /// unparked (`std::thread::Thread::unpark`): look what time it is. For waiting in which nothing falls due.
    fn sleep_until(&self, deadline: Nanos);

    /// Waits until `deadline` as exactly as can be, and says what time it is then.
    fn wait_until(&self, deadline: Nanos) -> Nanos;
}

/// How soon a fake clock's sleeper is woken, in nanoseconds: who watches the clock may have told it something.
const WOKEN: i64 = 2_000_000;

/// A clock that jumps from deadline to deadline, by 2 ms at most: hours pass in seconds.
pub struct FakeClock {
    now: AtomicI64,
    /// How much later than asked a wait ends.
    overshoot: Nanos,
    watcher: Box<dyn Fn(Nanos) + Send + Sync>,
}

impl FakeClock {
    /// A clock at 0.
    pub fn new() -> Self {
        Self::watched(|_| {})
    }

    /// A clock at 0 that calls `watcher` with the time whenever it has moved on.
    pub fn watched(watcher: impl Fn(Nanos) + Send + Sync + 'static) -> Self {
        Self { now: AtomicI64::new(0), overshoot: Nanos(0), watcher: Box::new(watcher) }
    }

    /// Wakes its sleepers that much late, as a busy machine does.
    #[must_use]
    pub fn late_by(mut self, overshoot: Nanos) -> Self {
        self.overshoot = overshoot;
        self
    }

    fn jump(&self, to: Nanos) {
        let before = self.now.fetch_max(to.0, Ordering::SeqCst);
        if before < to.0 {
            (self.watcher)(to);
        }
    }
}

impl Default for FakeClock {
    fn default() -> Self {
        Self::new()
    }
}

impl Clock for FakeClock {
    fn now(&self) -> Nanos {
        Nanos(self.now.load(Ordering::SeqCst))
    }

    fn sleep_until(&self, deadline: Nanos) {
        let now = self.now();
        if now < deadline {
            let woken = deadline.0.min(now.0.saturating_add(WOKEN));
            self.jump(Nanos(woken.saturating_add(self.overshoot.0)));
        }
    }

    fn wait_until(&self, deadline: Nanos) -> Nanos {
        if self.now() < deadline {
            self.jump(Nanos(deadline.0.saturating_add(self.overshoot.0)));
        }
        self.now()
    }
}
