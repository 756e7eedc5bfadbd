//! Live tests play one at a time: what one measures must not be another's doing.

use std::fs::File;

/// Says where a test runs: unset in the test itself, which starts a server; the test's name in the
/// child that it runs with that server as its default. The library has no other way to be told which
/// server to use, and a process can't safely change its own environment.
pub const INSIDE: &str = "OPENCHAIR_TEST_INSIDE";

/// Held by the one whose turn it is; let go at its end, whatever that is.
pub struct Turn {
    /// Locked, and with the file the lock goes.
    _file: Option<File>,
}

/// Waits for the others, of this program and of any other that tests openchair on this machine. JACK names the
/// sockets of a client after the client and not after its server (jackd2 1.9), so that even two tests that
/// measure nothing can't have a "listener" each. A test's child plays in its parent's turn.
pub fn turn() -> Turn {
    if std::env::var_os(INSIDE).is_some() {
        return Turn { _file: None };
    }
    let path = std::env::temp_dir().join("openchair-live-tests.lock");
    let file = File::options().create(true).append(true).open(path).unwrap();
    file.lock().unwrap();
    Turn { _file: Some(file) }
}
