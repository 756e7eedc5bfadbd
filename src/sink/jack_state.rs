use std::cell::Cell;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A server that runs no period for this long has died or lost its device (it says so only to code
/// that must run as a signal handler); the longest period, 8,192 frames at 44.1 kHz, is 0.19 s.
const STOPPED: Duration = Duration::from_secs(1);

/// Whether a server still runs its periods, by their count.
pub(super) struct Pulse {
    /// The last count and when it was new.
    seen: Cell<(u64, Instant)>,
}

impl Pulse {
    pub(super) fn new() -> Self {
        Self { seen: Cell::new((0, Instant::now())) }
    }

    /// True if no period has been run for [`STOPPED`].
    pub(super) fn has_stopped(&self, count: u64) -> bool {
        let (last, since) = self.seen.get();
        if count != last {
            self.seen.set((count, Instant::now()));
            return false;
        }
        since.elapsed() > STOPPED
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
