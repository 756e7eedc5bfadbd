//! A terminal that has gone: its window was closed, or the line to it broke.

use std::io;
use std::time::Duration;

/// Waits until standard input has something to read, so long at most, and gives what is left to wait
/// for. What reads keys tries again for ever on a terminal that has gone, so it must not be asked then.
///
/// # Errors
/// The terminal has gone.
#[cfg(unix)]
pub(super) fn wait(patience: Duration) -> io::Result<Duration> {
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::io::Errno;

    let stdin = rustix::stdio::stdin();
    let mut ready = [PollFd::new(&stdin, PollFlags::IN)];
    let timeout = Timespec::try_from(patience).ok();
    match poll(&mut ready, timeout.as_ref()) {
        // A signal: another size of the window is told by one.
        Ok(0) | Err(Errno::INTR) => return Ok(Duration::ZERO),
        Ok(_) => {}
        // Where terminals can't be waited for like this, whoever reads the keys waits.
        Err(_) => return Ok(patience),
    }
    let flags = ready.first().map_or(PollFlags::empty(), PollFd::revents);
    if flags.intersects(PollFlags::HUP | PollFlags::ERR) {
        return Err(io::Error::new(io::ErrorKind::BrokenPipe, "the terminal has gone"));
    }
    Ok(if flags.contains(PollFlags::IN) { Duration::ZERO } else { patience })
}

/// Leaves the waiting to whoever reads the keys.
///
/// # Errors
/// Never.
#[cfg(not(unix))]
pub(super) fn wait(patience: Duration) -> io::Result<Duration> {
    Ok(patience)
}
