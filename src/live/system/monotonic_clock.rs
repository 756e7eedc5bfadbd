use std::thread;
use std::time::{Duration, Instant};

use crate::live::Clock;
use crate::live::clock::SPIN;
use crate::time::Nanos;

/// The system's monotonic clock.
#[derive(Clone, Copy, Debug)]
pub struct MonotonicClock {
    epoch: Instant,
}

impl MonotonicClock {
    /// A clock that starts now.
    pub fn new() -> Self {
        Self { epoch: Instant::now() }
    }

    /// The moment its time counts from.
    pub const fn epoch(&self) -> Instant {
        self.epoch
    }
}

impl Default for MonotonicClock {
    fn default() -> Self {
        Self::new()
    }
}

impl Clock for MonotonicClock {
    fn now(&self) -> Nanos {
        Nanos(i64::try_from(self.epoch.elapsed().as_nanos()).unwrap_or(i64::MAX))
    }

    fn sleep_until(&self, deadline: Nanos) {
        let left = deadline.0.saturating_sub(self.now().0);
        if let Ok(left) = u64::try_from(left)
            && left > 0
        {
            thread::park_timeout(Duration::from_nanos(left));
        }
    }

    fn wait_until(&self, deadline: Nanos) -> Nanos {
        let nearly = Nanos(deadline.0.saturating_sub(SPIN.0));
        while self.now() < nearly {
            self.sleep_until(nearly);
        }
        loop {
            let now = self.now();
            if now >= deadline {
                return now;
            }
            std::hint::spin_loop();
        }
    }
}
