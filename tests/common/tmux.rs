//! A terminal that can be looked into: a pane of a tmux server of its own.
#![allow(dead_code, missing_docs, clippy::unwrap_used, clippy::panic)]

use std::io::ErrorKind;
use std::path::Path;
use std::process::{Command, Output};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// What a loaded machine may take to show something.
const PATIENCE: Duration = Duration::from_secs(20);

pub struct Pane {
    /// Where the server's socket is; it goes with the pane.
    folder: tempfile::TempDir,
}

impl Pane {
    /// Runs a line of shell in a pane of that size. None, and the reason printed, without tmux.
    pub fn run(test: &str, width: u16, height: u16, shell: &str) -> Option<Self> {
        let pane = Self { folder: tempfile::tempdir().unwrap() };
        let size = [("-x", width), ("-y", height)].map(|(sign, cells)| (sign, cells.to_string()));
        let mut start = pane.command();
        start.args(["-f", "/dev/null", "new-session", "-d"]);
        for (sign, cells) in &size {
            start.args([*sign, cells]);
        }
        start.arg(shell).args([";", "set", "-g", "status", "off"]);
        match start.output() {
            Ok(output) => assert!(output.status.success(), "{output:?}"),
            Err(why) => {
                super::skip::skipped(
                    test,
                    &match why.kind() {
                        ErrorKind::NotFound => "tmux is not installed".to_owned(),
                        _ => format!("tmux does not start: {why}"),
                    },
                );
                return None;
            }
        }
        // The line that said its status went; the pane takes its row too.
        pane.resize(width, height);
        Some(pane)
    }

    fn command(&self) -> Command {
        let mut command = Command::new("tmux");
        command
            .arg("-u")
            .arg("-S")
            .arg(self.folder.path().join("tmux"))
            .env("LC_ALL", "C.UTF-8")
            .env_remove("TMUX");
        command
    }

    fn tmux(&self, words: &[&str]) -> Output {
        let output = self.command().args(words).output().unwrap();
        assert!(output.status.success(), "{words:?}: {output:?}");
        output
    }

    pub fn resize(&self, width: u16, height: u16) {
        let (width, height) = (width.to_string(), height.to_string());
        self.tmux(&["resize-window", "-x", &width, "-y", &height]);
    }

    /// Presses keys, by tmux's names for them.
    pub fn keys(&self, keys: &[&str]) {
        for key in keys {
            self.tmux(&["send-keys", key]);
        }
    }

    /// What is in the pane.
    pub fn capture(&self) -> String {
        String::from_utf8(self.tmux(&["capture-pane", "-p"]).stdout).unwrap()
    }

    /// A fact about the pane, by tmux's name for it.
    pub fn fact(&self, name: &str) -> String {
        let output = self.tmux(&["display-message", "-p", &format!("#{{{name}}}")]);
        String::from_utf8(output.stdout).unwrap().trim().to_owned()
    }

    /// All that the program writes from now on, into a file as well.
    pub fn record(&self, file: &Path) {
        self.tmux(&["pipe-pane", "-o", &format!("cat > '{}'", file.display())]);
    }

    /// Waits until the pane looks so, and gives what it shows.
    pub fn until(&self, what: &str, looks: impl Fn(&str) -> bool) -> String {
        let give_up = Instant::now() + PATIENCE;
        loop {
            let seen = self.capture();
            if looks(&seen) {
                return seen;
            }
            assert!(Instant::now() < give_up, "never {what}:\n{seen}");
            sleep(Duration::from_millis(20));
        }
    }

    /// Waits until the pane shows a text.
    pub fn shows(&self, text: &str) -> String {
        self.until(&format!("{text:?}"), |seen| seen.contains(text))
    }
}

impl Drop for Pane {
    fn drop(&mut self) {
        // A server that has gone already is no failure.
        _ = self.command().arg("kill-server").output();
    }
}
