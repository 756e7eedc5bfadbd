use std::io;

/// Runs `run` with standard error closed to it.
///
/// The system's sound and MIDI libraries write their own complaints straight to file descriptor 2
/// while they look for devices. What matters of it comes back as an error, in plain words; the rest
/// would only fill the screen. What other threads have to say meanwhile they must say [`aloud`].
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

/// Writes to standard error, even while it is closed to a library.
///
/// # Errors
/// Standard error is gone.
#[cfg(unix)]
pub fn aloud(text: &str) -> io::Result<()> {
    unix::aloud(text.as_bytes())
}

/// Writes to standard error.
///
/// # Errors
/// Standard error is gone.
#[cfg(not(unix))]
pub fn aloud(text: &str) -> io::Result<()> {
    io::Write::write_all(&mut io::stderr(), text.as_bytes())
}

#[cfg(unix)]
mod unix {
    use std::fs::{File, OpenOptions};
    use std::io::{self, Write};
    use std::os::fd::OwnedFd;
    use std::sync::{Mutex, MutexGuard, PoisonError};

    use rustix::io::fcntl_dupfd_cloexec;
    use rustix::stdio::{dup2_stderr, stderr};

    /// How many are hushed at once, and the real standard error while any is.
    struct Kept {
        depth: usize,
        stderr: Option<File>,
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

    pub(super) fn aloud(text: &[u8]) -> io::Result<()> {
        // Held, so that it does not change meanwhile.
        let mut kept = kept();
        match &mut kept.stderr {
            Some(real) => real.write_all(text),
            None => io::stderr().write_all(text),
        }
    }

    fn hush() -> io::Result<File> {
        let real: OwnedFd = fcntl_dupfd_cloexec(stderr(), 3)?;
        let null = OpenOptions::new().write(true).open("/dev/null")?;
        dup2_stderr(&null)?;
        Ok(File::from(real))
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

#[cfg(all(test, unix))]
mod tests {
    use std::io::{self, Write};
    use std::process::Command;

    use super::*;

    /// Tells the copy of this test whose standard error is looked at.
    const INSIDE: &str = "OPENCHAIR_TEST_ALOUD";

    #[test]
    fn what_is_said_aloud_is_heard_while_a_library_is_hushed() {
        if std::env::var_os(INSIDE).is_some() {
            quietly(|| {
                writeln!(io::stderr(), "a library's complaint").unwrap();
                aloud("the port is back\n").unwrap();
            });
            aloud("and afterwards\n").unwrap();
            return;
        }
        let name =
            "sink::system::quiet::tests::what_is_said_aloud_is_heard_while_a_library_is_hushed";
        let mut command = Command::new(std::env::current_exe().unwrap());
        let output = command.args(["--exact", name, "--nocapture"]).env(INSIDE, "1").output();
        let output = output.unwrap();
        assert!(String::from_utf8_lossy(&output.stdout).contains("1 passed"), "{output:?}");
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(told, "the port is back\nand afterwards\n");
    }
}
