//! A receiver that can be killed: a program of its own that says what it hears.
#![allow(dead_code, missing_docs, clippy::unwrap_used, clippy::panic)]

use std::io::{BufRead, BufReader, Write};
use std::process::{Child, Stdio};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use openchair::ports::ports_list;

use super::jack::{Listener, again};

/// When, in microseconds on the system's clock, and which bytes.
pub type Line = (i64, [u8; 3]);

/// The name of the receiver's client, for its own process.
const NAME: &str = "OPENCHAIR_TEST_RECEIVER";

/// What the receiver's own process runs: a line for each message, until nobody reads.
pub fn synth() {
    let mut listener = Listener::new(&std::env::var(NAME).unwrap());
    let mut told = 0;
    loop {
        let heard = listener.listen()[told..].to_vec();
        told += heard.len();
        let mut out = std::io::stdout().lock();
        for it in heard {
            let [first, second, third] = it.bytes;
            let client = listener.client();
            // The server's clock begins with the server; the system's outlives it.
            let ago = client.time() as i64 - client.frames_to_time(it.frame) as i64;
            let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_micros() as i64;
            let at = now - ago;
            if writeln!(out, "heard {at} {first} {second} {third}").is_err() {
                return;
            }
        }
        if out.flush().is_err() {
            return;
        }
        drop(out);
        thread::sleep(Duration::from_millis(2));
    }
}

pub struct Synth {
    child: Child,
    lines: mpsc::Receiver<Line>,
}

impl Synth {
    /// Starts one as the client "synth" of the server of this process.
    pub fn start(test: &str) -> Self {
        Self::named(test, "synth")
    }

    /// Starts one as a client of that name.
    pub fn named(test: &str, name: &str) -> Self {
        let mut command = again(test, "synth");
        let mut child = command.env(NAME, name).stdout(Stdio::piped()).spawn().unwrap();
        let out = BufReader::new(child.stdout.take().unwrap());
        let (tell, lines) = mpsc::channel();
        thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                // The test runner writes its own words in front of the first.
                let Some((_, numbers)) = line.split_once("heard ") else { continue };
                let mut numbers = numbers.split(' ').map(|it| it.parse::<i64>().unwrap());
                let at = numbers.next().unwrap();
                let bytes = [(); 3].map(|()| numbers.next().unwrap() as u8);
                if tell.send((at, bytes)).is_err() {
                    break;
                }
            }
        });
        Self { child, lines }
    }

    /// Listens until so many notes have begun.
    pub fn hear(&self, notes: usize) -> Vec<Line> {
        let mut heard: Vec<Line> = Vec::new();
        while heard.iter().filter(|(_, bytes)| bytes[0] >> 4 == 9).count() < notes {
            let line = self.lines.recv_timeout(Duration::from_secs(20));
            heard.push(line.unwrap_or_else(|_| panic!("it falls silent: {heard:?}")));
        }
        heard
    }

    /// What has come and still comes, until nothing does for a while.
    pub fn rest(&self) -> Vec<Line> {
        let mut heard = Vec::new();
        while let Ok(line) = self.lines.recv_timeout(Duration::from_millis(500)) {
            heard.push(line);
        }
        heard
    }

    pub fn kill(self) {
        drop(self);
    }
}

impl Drop for Synth {
    fn drop(&mut self) {
        _ = self.child.kill();
        _ = self.child.wait();
    }
}

pub fn wait_for_port() {
    let given_up = Instant::now() + Duration::from_secs(20);
    while ports_list().outputs.iter().all(|port| port.name != "synth:in") {
        assert!(Instant::now() < given_up, "the receiver does not start");
        thread::sleep(Duration::from_millis(20));
    }
}

/// The note-ons among messages.
pub fn ons(lines: &[Line]) -> Vec<Line> {
    lines.iter().copied().filter(|line| line.1[0] >> 4 == 9).collect()
}

/// The notes that sound after these messages: channel and pitch.
pub fn sounding(lines: &[Line]) -> Vec<(u8, u8)> {
    let mut on = Vec::new();
    for (_, [status, pitch, _]) in lines {
        let note = (status & 15, *pitch);
        match status & 0xF0 {
            0x90 => on.push(note),
            0x80 => on.retain(|&other| other != note),
            _ => {}
        }
    }
    on
}
