/// Runs `run` with standard error closed to it.
///
/// The system's sound and MIDI libraries write their own complaints straight to file descriptor 2
/// while they look for devices. What matters of it comes back as an error, in plain words; the rest
/// would only fill the screen. Messages of other threads are lost as well meanwhile, so keep `run`
/// short.
#[cfg(unix)]
pub fn quietly<T>(run: impl FnOnce() -> T) -> T {
    let _hush = unix::Hush::new();
    run()
}

/// Runs `run`. The sound and MIDI libraries of this system print nothing.
#[cfg(not(unix))]
pub fn quietly<T>(run: impl FnOnce() -> T) -> T {
    run()
}

#[cfg(unix)]
mod unix {
    use std::fs::OpenOptions;
    use std::os::fd::OwnedFd;
    use std::sync::{Mutex, MutexGuard, PoisonError};

    use rustix::io::fcntl_dupfd_cloexec;
    use rustix::stdio::{dup2_stderr, stderr};

    /// How many are hushed at once, and the real standard error while any is.
    struct Kept {
        depth: usize,
        stderr: Option<OwnedFd>,
    }

    static KEPT: Mutex<Kept> = Mutex::new(Kept { depth: 0, stderr: None });

    fn kept() -> MutexGuard<'static, Kept> {
        KEPT.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) struct Hush;

    impl Hush {
        pub(super) fn new() -> Self {
            let mut kept = kept();
            kept.depth += 1;
            if kept.depth == 1 {
                // Where it can't be done, it is merely not quiet.
                kept.stderr = hush().ok();
            }
            Self
        }
    }

    fn hush() -> std::io::Result<OwnedFd> {
        let real = fcntl_dupfd_cloexec(stderr(), 3)?;
        let null = OpenOptions::new().write(true).open("/dev/null")?;
        dup2_stderr(&null)?;
        Ok(real)
    }

    impl Drop for Hush {
        fn drop(&mut self) {
            let mut kept = kept();
            kept.depth -= 1;
            if kept.depth == 0
                && let Some(real) = kept.stderr.take()
            {
                let _ = dup2_stderr(&real);
            }
        }
    }
}
