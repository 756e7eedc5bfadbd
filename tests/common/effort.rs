//! What something costs, whoever else is at work on the machine.

use std::time::Duration;

/// What the processor has done for this thread so far.
#[cfg(unix)]
pub fn effort() -> Duration {
    use rustix::time::{ClockId, clock_gettime};
    clock_gettime(ClockId::ThreadCPUTime).try_into().unwrap()
}

/// The time of day will do where the system's other clocks are not known.
#[cfg(not(unix))]
pub fn effort() -> Duration {
    static BEGUN: std::sync::LazyLock<std::time::Instant> =
        std::sync::LazyLock::new(std::time::Instant::now);
    BEGUN.elapsed()
}
