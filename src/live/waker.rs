use std::sync::{Arc, OnceLock};
use std::thread::{self, Thread};

/// Wakes the playing thread from a long wait. Copies wake one and the same; before it plays nothing is woken.
#[derive(Clone, Debug, Default)]
pub struct Waker(Arc<OnceLock<Thread>>);

impl Waker {
    /// From now on this thread is woken.
    pub(super) fn is_this_thread(&self) {
        let _ = self.0.set(thread::current());
    }

    /// Wakes it. Allocates nothing and takes no lock: a flag is set, and if the thread waits the system is told.
    pub fn wake(&self) {
        if let Some(thread) = self.0.get() {
            thread.unpark();
        }
    }
}
