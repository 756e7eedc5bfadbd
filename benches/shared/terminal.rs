//! The program in a terminal of its own, of which we hold the other end.

use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;

use rustix::fs::{Mode, OFlags, open};
use rustix::io::{FdFlags, fcntl_setfd};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};

pub struct Terminal {
    keys: File,
    program: Child,
}

impl Terminal {
    /// Runs a program in a terminal of 80 by 24, as a shell does in the foreground. What it writes
    /// there is read, and dropped. `settings` is the folder of the user's own.
    pub fn run(program: &str, arguments: &[&str], settings: &Path) -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        fcntl_setfd(&master, FdFlags::CLOEXEC).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let size = Winsize { ws_row: 24, ws_col: 80, ws_xpixel: 0, ws_ypixel: 0 };
        tcsetwinsize(&master, size).unwrap();
        let name = ptsname(&master, Vec::new()).unwrap();
        let slave = open(name, OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC, Mode::empty());
        let slave = File::from(slave.unwrap());
        // It makes the terminal the program's own, and then is the program.
        let mut command = Command::new("setsid");
        let program = command
            .arg("--ctty")
            .arg(program)
            .args(arguments)
            .stdin(slave.try_clone().unwrap())
            .stdout(slave)
            .stderr(Stdio::null())
            .env("XDG_CONFIG_HOME", settings)
            .env("TERM", "xterm-256color")
            .spawn()
            .unwrap();
        // It holds the other end of the terminal too.
        drop(command);
        let keys = File::from(master);
        let mut screen = keys.try_clone().unwrap();
        thread::spawn(move || {
            let mut drawn = [0; 1 << 16];
            while screen.read(&mut drawn).is_ok_and(|length| length > 0) {}
        });
        Self { keys, program }
    }

    pub fn press(&mut self, key: &[u8]) {
        self.keys.write_all(key).unwrap();
    }

    pub fn is_over(&mut self) -> bool {
        !matches!(self.program.try_wait(), Ok(None))
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.keys.write_all(b"q");
        for _ in 0..200 {
            if self.is_over() {
                return;
            }
            thread::sleep(std::time::Duration::from_millis(10));
        }
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}
