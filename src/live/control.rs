use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, Ordering};

use crate::time::Nanos;

/// The handle between the playing thread and all others: how to stop it, and how far it is. Copies
/// are of one and the same; reading and writing never wait.
#[derive(Clone, Debug, Default)]
pub struct Control {
    stop: Arc<AtomicBool>,
    position: Arc<AtomicI64>,
}

impl Control {
    /// Nothing stopped, position 0.
    pub fn new() -> Self {
        Self::default()
    }

    /// Asks to stop. The playing thread sees it within 10 ms, damps every note and ends.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Release);
    }

    /// True once a stop was asked for.
    pub fn is_stopping(&self) -> bool {
        self.stop.load(Ordering::Acquire)
    }

    /// The flag itself, for a signal handler to set.
    pub fn stop_flag(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.stop)
    }

    /// How far playing is, from the performance's time 0; never more than 10 ms behind on a machine
    /// that keeps up.
    pub fn position(&self) -> Nanos {
        Nanos(self.position.load(Ordering::Acquire))
    }

    /// For the playing thread.
    pub fn set_position(&self, position: Nanos) {
        self.position.store(position.0.max(0), Ordering::Release);
    }
}
