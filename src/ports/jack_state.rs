use std::cell::Cell;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A server that runs no period for this long has died or lost its device (it says so only to code
/// that must run as a signal handler); the longest period, 8,192 frames at 44.1 kHz, is 0.19 s.
const STOPPED: Duration = Duration::from_secs(1);

/// Whether a server still runs its periods, by their count.
pub(super) struct Pulse {
    /// The last count and since when it has been seen to stand still.
    seen: Cell<(u64, Instant)>,
    /// When it was looked at last.
    looked: Cell<Instant>,
}

impl Pulse {
    pub(super) fn new() -> Self {
        let now = Instant::now();
        Self { seen: Cell::new((0, now)), looked: Cell::new(now) }
    }

    /// True if no period has been run for [`STOPPED`]. To be asked more often than that.
    pub(super) fn has_stopped(&self, count: u64) -> bool {
        self.has_stopped_at(count, Instant::now())
    }

    fn has_stopped_at(&self, count: u64, now: Instant) -> bool {
        let (last, since) = self.seen.get();
        // Whoever did not look for so long stood still himself, and no period could be run here
        // meanwhile.
        let stood = now.saturating_duration_since(self.looked.replace(now)) > STOPPED;
        if count != last || stood {
            self.seen.set((count, now));
            return false;
        }
        now.saturating_duration_since(since) > STOPPED
    }
}

/// The clients of this process that have ports.
static OWN: Mutex<Vec<String>> = Mutex::new(Vec::new());

/// A client of this process, by the name that the server gave it. Nobody means his own ports when he
/// chooses one, so they are not offered while this lives.
pub(super) struct OwnClient(String);

impl OwnClient {
    pub(super) fn new(name: &str) -> Self {
        OWN.lock().unwrap_or_else(PoisonError::into_inner).push(name.to_owned());
        Self(name.to_owned())
    }

    /// True if a port of that name is ours.
    pub(super) fn has(port: &str) -> bool {
        let own = OWN.lock().unwrap_or_else(PoisonError::into_inner);
        port.split_once(':').is_some_and(|(client, _)| own.iter().any(|name| name == client))
    }
}

impl Drop for OwnClient {
    fn drop(&mut self) {
        let mut own = OWN.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(index) = own.iter().position(|name| *name == self.0) {
            own.swap_remove(index);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_server_that_is_watched_counts_as_stopped() {
        let pulse = Pulse::new();
        let mut now = Instant::now();
        let mut after = |millis: u64| {
            now += Duration::from_millis(millis);
            now
        };
        assert!(!pulse.has_stopped_at(1, after(10)));
        for _ in 0..10 {
            assert!(!pulse.has_stopped_at(1, after(100)));
        }
        assert!(pulse.has_stopped_at(1, after(100)));
        assert!(!pulse.has_stopped_at(2, after(100)), "it runs again");
        // This program slept, the server's way to it too.
        assert!(!pulse.has_stopped_at(2, after(60_000)));
        assert!(!pulse.has_stopped_at(2, after(600)));
        assert!(pulse.has_stopped_at(2, after(600)), "it did not come back");
    }

    #[test]
    fn own_ports_are_known_while_their_client_lives() {
        let first = OwnClient::new("tests-own");
        let second = OwnClient::new("tests-own-01");
        assert!(OwnClient::has("tests-own:band") && OwnClient::has("tests-own-01:in"));
        assert!(!OwnClient::has("tests-own-02:band") && !OwnClient::has("tests-own"));
        drop(first);
        assert!(!OwnClient::has("tests-own:band") && OwnClient::has("tests-own-01:in"));
        drop(second);
        assert!(!OwnClient::has("tests-own-01:in"));
    }
}
