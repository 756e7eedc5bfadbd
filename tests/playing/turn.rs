//! Who plays when: live tests that measure time share the machine with as many as it has cores; others play beside each
//! other.

use std::fs::File;
use std::process::Command;
use std::sync::OnceLock;
use std::time::Duration;

/// Says where a test runs: unset in the test itself, which starts a server; the test's name in the
/// child that it runs with that server as its default. The library has no other way to be told which
/// server to use, and a process can't safely change its own environment.
pub const INSIDE: &str = "OPENCHAIR_TEST_INSIDE";

/// Set in a test that has shared memory of its own.
pub const APART: &str = "OPENCHAIR_TEST_APART";

/// So many measure time at once: each plays and listens, which hardly uses a core.
fn places() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from).clamp(1, 4)
}

/// Held by the one whose turn it is; let go at its end, whatever that is.
pub struct Turn {
    /// Locked, and with the files the locks go.
    _files: Vec<File>,
}

/// Waits until nobody else plays, of this program and of any other that tests openchair on this machine.
pub fn turn_alone() -> Turn {
    Turn::take(|| (0..places()).map(|place| locked(place, File::lock)).collect())
}

/// Waits for one of the places of those that measure time. A core each is all that they share.
pub fn turn() -> Turn {
    Turn::take(|| {
        loop {
            for place in 0..places() {
                let file = open(place);
                if file.try_lock().is_ok() {
                    return vec![file];
                }
            }
            // Who waits by the lock itself, for all places, comes first.
            std::thread::sleep(Duration::from_millis(20));
        }
    })
}

/// Waits until nobody plays who measures time.
pub fn turn_beside_others() -> Turn {
    Turn::take(|| (0..places()).map(|place| locked(place, File::lock_shared)).collect())
}

impl Turn {
    fn take(lock: impl Fn() -> Vec<File>) -> Self {
        // A test's child plays in its parent's turn.
        let is_child = [INSIDE, APART].iter().any(|name| std::env::var_os(name).is_some());
        Self { _files: if is_child { Vec::new() } else { lock() } }
    }
}

fn open(place: usize) -> File {
    let path = std::env::temp_dir().join(format!("openchair-live-tests-{place}.lock"));
    File::options().create(true).append(true).open(path).unwrap()
}

fn locked(place: usize, lock: impl Fn(&File) -> std::io::Result<()>) -> File {
    let file = open(place);
    lock(&file).unwrap();
    file
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
