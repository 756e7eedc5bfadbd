//! The program itself: started, listened to, and what its exported file holds.
#![allow(dead_code, missing_docs, clippy::unwrap_used, clippy::panic)]

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use midly::{MetaMessage, MidiMessage, Smf, Timing, TrackEventKind};

use super::jack::signal;

pub fn song(name: &str) -> String {
    format!("{}/songs/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

pub fn openchair() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_openchair"));
    // What it keeps of the user's is none of the tester's.
    let data = concat!(env!("CARGO_TARGET_TMPDIR"), "/data");
    command.env("XDG_DATA_HOME", data).env("APPDATA", data);
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
    command
}

/// What a file holds for the channels: notes with their ticks, and what sets the channels up.
pub struct Exported {
    pub notes: Vec<(u64, [u8; 3])>,
    pub set_up: Vec<[u8; 3]>,
    /// Microseconds in a quarter of 960 ticks.
    pub micros: u32,
}

impl Exported {
    pub fn of(song: &str, options: &[&str]) -> Self {
        let output = openchair()
            .args(["export", song, "-o", "-", "--format", "mid"])
            .args(options)
            .stdout(Stdio::piped())
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let smf = Smf::parse(&output.stdout).unwrap();
        assert_eq!(smf.header.timing, Timing::Metrical(960.into()));
        let (mut notes, mut set_up, mut tempo) = (Vec::new(), Vec::new(), None);
        for track in &smf.tracks {
            let mut at = 0;
            for event in track {
                at += u64::from(event.delta.as_int());
                match event.kind {
                    TrackEventKind::Midi { channel, message } => {
                        let channel = channel.as_int();
                        match message {
                            MidiMessage::NoteOn { key, vel } => {
                                notes.push((at, [0x90 | channel, key.as_int(), vel.as_int()]));
                            }
                            MidiMessage::NoteOff { key, .. } => {
                                notes.push((at, [0x80 | channel, key.as_int(), 0]));
                            }
                            MidiMessage::ProgramChange { program } => {
                                set_up.push([0xC0 | channel, program.as_int(), 0]);
                            }
                            // The key that a note goes on from belongs to the note.
                            MidiMessage::Controller { controller, .. } if controller == 84 => {}
                            MidiMessage::Controller { controller, value } => {
                                set_up.push([0xB0 | channel, controller.as_int(), value.as_int()]);
                            }
                            _ => {}
                        }
                    }
                    TrackEventKind::Meta(MetaMessage::Tempo(micros)) => {
                        tempo = Some(micros.as_int());
                    }
                    _ => {}
                }
            }
        }
        notes.sort_by_key(|&(at, _)| at);
        Self { notes, set_up, micros: tempo.unwrap() }
    }

    /// Every note-on and when, in microseconds from the file's beginning.
    pub fn ons(&self) -> Vec<(i64, [u8; 3])> {
        let ons = self.notes.iter().filter(|(_, bytes)| bytes[0] >> 4 == 9);
        ons.map(|&(tick, bytes)| ((tick * u64::from(self.micros) / 960) as i64, bytes)).collect()
    }
}

/// The program while it plays, and what it says on standard error.
pub struct Player {
    pub child: Child,
    lines: mpsc::Receiver<String>,
    pub told: Vec<String>,
}

impl Player {
    pub fn start(command: &mut Command) -> Self {
        let mut child = command.spawn().unwrap();
        let err = BufReader::new(child.stderr.take().unwrap());
        let (tell, lines) = mpsc::channel();
        thread::spawn(move || {
            err.lines()
                .map_while(Result::ok)
                .take_while(|line| tell.send(line.clone()).is_ok())
                .count()
        });
        Self { child, lines, told: Vec::new() }
    }

    /// Waits until it says a line with this in it.
    pub fn says(&mut self, what: &str) {
        let give_up = Instant::now() + Duration::from_secs(30);
        loop {
            let line = self.lines.recv_timeout(give_up.saturating_duration_since(Instant::now()));
            let Ok(line) = line else { panic!("never said {what:?}: {:?}", self.told) };
            let found = line.contains(what);
            self.told.push(line);
            if found {
                return;
            }
        }
    }

    /// How many lines with this in them it said so far.
    pub fn said(&mut self, what: &str) -> usize {
        self.told.extend(self.lines.try_iter());
        self.told.iter().filter(|line| line.contains(what)).count()
    }

    pub fn signal(&self, name: &str) {
        signal(self.child.id(), name);
    }

    /// Signals it, and waits for its end: the status is 128 and the signal's number, as shells have it.
    pub fn stops_at(&mut self, name: &str) {
        self.signal(name);
        self.was_stopped_by(name);
    }

    /// Waits for its end, which a signal brought. The numbers are POSIX's own (kill: 1, 2, 3 and 15).
    pub fn was_stopped_by(&mut self, name: &str) {
        let number = match name {
            "HUP" => 1,
            "INT" => 2,
            "QUIT" => 3,
            "TERM" => 15,
            other => panic!("{other}"),
        };
        let status = self.ends();
        assert_eq!(status.code(), Some(128 + number), "{name}: {:?}", self.told);
    }

    /// Waits for its end.
    pub fn ends(&mut self) -> ExitStatus {
        let give_up = Instant::now() + Duration::from_secs(20);
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                self.told.extend(self.lines.iter());
                return status;
            }
            assert!(Instant::now() < give_up, "it does not end: {:?}", self.told);
            thread::sleep(Duration::from_millis(10));
        }
    }
}

impl Drop for Player {
    fn drop(&mut self) {
        _ = self.child.kill();
        _ = self.child.wait();
    }
}

/// How far each note heard lies from the file's, in microseconds, counted from `base` where the file
/// begins. Every note of the file between the first and the last heard must be there, and no other.
pub fn off_the_grid(heard: &[(i64, [u8; 3])], file: &[(i64, [u8; 3])], base: i64) -> Vec<i64> {
    /// Beyond this it is another stroke.
    const ANOTHER: i64 = 60_000;
    let mut used = vec![false; file.len()];
    let off = heard.iter().map(|&(at, bytes)| {
        let after = at - base;
        let same = file.iter().enumerate().filter(|(n, it)| it.1 == bytes && !used[*n]);
        let nearest = same.min_by_key(|(_, it)| (it.0 - after).abs());
        let (n, it) = nearest.unwrap_or_else(|| panic!("{bytes:?} is no note of the file"));
        let off = after - it.0;
        assert!(off.abs() < ANOTHER, "the beat stopped, or jumped: {bytes:?} is off by {off} µs");
        used[n] = true;
        off
    });
    let off: Vec<i64> = off.collect();
    // The strings of a stroke that is cut at either end are let go.
    let (first, last) = (heard[0].0 - base + ANOTHER, heard[heard.len() - 1].0 - base - ANOTHER);
    let missing =
        file.iter().zip(&used).filter(|(it, used)| !**used && (first..last).contains(&it.0));
    let missing: Vec<_> = missing.map(|(it, _)| it).collect();
    assert!(missing.is_empty(), "{missing:?} were not heard");
    off
}

pub fn median(values: &[i64]) -> i64 {
    let mut sorted = values.to_vec();
    sorted.sort_unstable();
    sorted[sorted.len() / 2]
}
