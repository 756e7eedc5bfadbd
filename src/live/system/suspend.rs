use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Ctrl-Z and `kill -TSTP`, caught so that the band falls silent before the program stands still:
/// a program that stands still sends no note-off.
#[derive(Clone, Debug, Default)]
pub struct Suspension(Arc<AtomicBool>);

impl Suspension {
    /// From now on the signal only sets a flag. Can't be undone; call it once.
    ///
    /// # Errors
    /// The system does not let the signal be caught.
    pub fn catch() -> io::Result<Self> {
        let suspension = Self::default();
        #[cfg(unix)]
        signal_hook::flag::register(signal_hook::consts::SIGTSTP, Arc::clone(&suspension.0))?;
        Ok(suspension)
    }

    /// True once for each time it was asked for.
    pub fn asked(&self) -> bool {
        self.0.swap(false, Ordering::AcqRel)
    }

    /// Stands still until the shell lets the program go on (`fg`). Silence everything and give the
    /// terminal back before.
    ///
    /// # Errors
    /// The system refuses.
    pub fn stand_still() -> io::Result<()> {
        #[cfg(unix)]
        signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGTSTP)?;
        Ok(())
    }
}
