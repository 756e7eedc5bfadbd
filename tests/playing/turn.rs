//! Who plays when: a live test that measures time has the machine to itself; others play beside each other.

use std::fs::File;
use std::process::Command;
use std::sync::OnceLock;

/// Says where a test runs: unset in the test itself, which starts a server; the test's name in the
/// child that it runs with that server as its default. The library has no other way to be told which
/// server to use, and a process can't safely change its own environment.
pub const INSIDE: &str = "OPENCHAIR_TEST_INSIDE";

/// Set in a test that has shared memory of its own.
pub const APART: &str = "OPENCHAIR_TEST_APART";

/// Held by the one whose turn it is; let go at its end, whatever that is.
pub struct Turn {
    /// Locked, and with the file the lock goes.
    _file: Option<File>,
}

/// Waits until nobody else plays, of this program and of any other that tests openchair on this machine.
pub fn turn() -> Turn {
    Turn::take(File::lock)
}

/// Waits until nobody plays who must be alone.
pub fn turn_beside_others() -> Turn {
    Turn::take(File::lock_shared)
}

impl Turn {
    fn take(lock: impl Fn(&File) -> std::io::Result<()>) -> Self {
        // A test's child plays in its parent's turn.
        if [INSIDE, APART].iter().any(|name| std::env::var_os(name).is_some()) {
            return Self { _file: None };
        }
        let path = std::env::temp_dir().join("openchair-live-tests.lock");
        let file = File::options().create(true).append(true).open(path).unwrap();
        lock(&file).unwrap();
        Self { _file: Some(file) }
    }
}

/// A program in a world where nobody else shares memory with it, where the system lets us make one: JACK keeps
/// all its servers and clients there, and names the sockets of a client after the client alone (jackd2 1.9), so
/// that two servers side by side can't have a "listener" each. Other systems and users have one server at a time.
pub fn apart(program: &std::path::Path) -> Option<Command> {
    static CAN: OnceLock<bool> = OnceLock::new();
    let command = |program: &std::ffi::OsStr| {
        let mut command = Command::new("unshare");
        let own = r#"mount -t tmpfs tmpfs /dev/shm && exec "$0" "$@""#;
        command.args(["--mount", "sh", "-c", own]).arg(program);
        command
    };
    let can = CAN.get_or_init(|| {
        let tried = command("true".as_ref()).output();
        cfg!(target_os = "linux") && tried.is_ok_and(|output| output.status.success())
    });
    can.then(|| {
        let mut command = command(program.as_os_str());
        command.env(APART, "1");
        command
    })
}
