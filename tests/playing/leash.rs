//! Other programs that a test needs beside it: they end when the test does, however it ends.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Runs the program, says its process id, and ends it when nobody holds the other end of the input any more:
/// the test's process may have been killed, and servers start sessions of their own, which no Ctrl-C reaches.
const HOLD: &str = r#""$0" "$@" </dev/null >/dev/null 2>&1 &
echo $!; read -r _; kill $! 2>/dev/null; wait $!"#;

/// A program that runs, and ends with its owner.
pub struct Leash {
    shell: Child,
    /// Its process id.
    pub pid: u32,
}

impl Leash {
    /// Starts it. An error if there is no such program.
    pub fn start(command: &Command) -> std::io::Result<Self> {
        let program = command.get_program();
        // Not asked to do anything: only whether it is there.
        Command::new(program).arg("--version").stdin(Stdio::null()).output()?;
        let mut held = Command::new("sh");
        held.args(["-c", HOLD]).arg(program).args(command.get_args());
        for (name, value) in command.get_envs() {
            match value {
                Some(value) => held.env(name, value),
                None => held.env_remove(name),
            };
        }
        held.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut shell = held.spawn()?;
        let mut line = String::new();
        if let Some(said) = shell.stdout.take() {
            BufReader::new(said).read_line(&mut line)?;
        }
        let pid = line.trim().parse().map_err(std::io::Error::other)?;
        Ok(Self { shell, pid })
    }

    /// Ends it at once, without a chance to tidy up.
    pub fn kill(&mut self) {
        let kill = format!("kill -KILL {} 2>/dev/null", self.pid);
        _ = Command::new("sh").args(["-c", &kill]).status();
    }
}

impl Drop for Leash {
    fn drop(&mut self) {
        // Asked first, so that it leaves nothing behind.
        drop(self.shell.stdin.take());
        let give_up = Instant::now() + Duration::from_secs(5);
        while matches!(self.shell.try_wait(), Ok(None)) {
            if Instant::now() > give_up {
                self.kill();
                break;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        _ = self.shell.wait();
    }
}
