//! A private PulseAudio with a null sink, whose monitor can be recorded.
#![allow(dead_code, missing_docs, clippy::unwrap_used)]

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::playing::leash::Leash;
use crate::playing::turn::{Turn, turn, turn_beside_others};

/// The test is run again in a process of its own, since the sound library reads its environment once.
const INNER: &str = "OPENCHAIR_TEST_INNER";

/// What a loaded machine may take to play something.
const PATIENCE: Duration = Duration::from_secs(30);

/// A server that is gone at once when its owner is.
pub struct Server(Leash);

impl Drop for Server {
    fn drop(&mut self) {
        self.0.kill();
    }
}

/// A folder that serves as home, with a socket for the server.
pub struct Private {
    pub folder: tempfile::TempDir,
    _turn: Turn,
}

impl Private {
    /// With the machine to itself.
    pub fn new(with_sound: bool) -> Self {
        Self::in_turn(turn(), with_sound)
    }

    /// For what measures no time closely.
    pub fn beside_others(with_sound: bool) -> Self {
        Self::in_turn(turn_beside_others(), with_sound)
    }

    fn in_turn(turn: Turn, with_sound: bool) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("run")).unwrap();
        let devices = "pcm.!default { type pulse }\nctl.!default { type pulse }\n";
        if with_sound {
            fs::write(folder.path().join(".asoundrc"), devices).unwrap();
        }
        Self { folder, _turn: turn }
    }

    pub fn socket(&self) -> PathBuf {
        self.folder.path().join("run/pulse.sock")
    }

    pub fn command(&self, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let mut command = Command::new(program);
        command
            .env("HOME", self.folder.path())
            .env("XDG_RUNTIME_DIR", self.folder.path().join("run"))
            .env("PULSE_RUNTIME_PATH", self.folder.path().join("run"))
            .env("PULSE_SERVER", format!("unix:{}", self.socket().display()))
            .stderr(Stdio::null());
        command
    }

    pub fn server(&self) -> Option<Server> {
        let socket = format!(
            "module-native-protocol-unix socket={} auth-anonymous=1",
            self.socket().display()
        );
        let mut command = self.command("pulseaudio");
        command.env_remove("PULSE_SERVER").args([
            "-n",
            "--daemonize=no",
            "--exit-idle-time=-1",
            "--use-pid-file=no",
            "--realtime=no",
            "--high-priority=no",
            "-L",
            &socket,
            "-L",
            "module-null-sink sink_name=nul rate=48000",
            "-L",
            "module-always-sink",
        ]);
        let server = Server(Leash::start(&command).ok()?);
        let deadline = Instant::now() + Duration::from_secs(10);
        while !self.socket().exists() {
            if Instant::now() > deadline {
                return None;
            }
            sleep(Duration::from_millis(20));
        }
        Some(server)
    }

    /// Starts to record what the server's monitor hears, and waits until the recording flows.
    pub fn recorder(&self, name: &str) -> Option<Recorder> {
        let file = self.folder.path().join(name);
        let mut command = self.command("parec");
        command.args(["--latency-msec=20", "-d", "nul.monitor", "--rate=48000", "--channels=2"]);
        command.args(["--format=s16le", "--raw"]).arg(&file);
        let recorder = Recorder { _process: Server(Leash::start(&command).ok()?), file };
        // The server has rendered seconds ahead until it is asked for less: what sounds meanwhile is lost.
        let length = || fs::metadata(&recorder.file).map_or(0, |it| it.len());
        let deadline = Instant::now() + PATIENCE;
        let (mut before, mut steps) = (0, 0);
        while steps < 6 {
            assert!(Instant::now() < deadline, "nothing is recorded");
            sleep(Duration::from_millis(40));
            let now = length();
            steps = if now > before { steps + 1 } else { 0 };
            before = now;
        }
        Some(recorder)
    }

    /// Runs the named inner test in this private place.
    pub fn run(&self, inner: &str) {
        let mut command = self.command(std::env::current_exe().unwrap());
        command.args(["--exact", inner, "--nocapture"]).env(INNER, "1").stderr(Stdio::piped());
        let output = command.output().unwrap();
        let told = String::from_utf8_lossy(&output.stderr);
        let said = String::from_utf8_lossy(&output.stdout);
        println!("{said}");
        assert!(output.status.success(), "{said}\n{told}");
    }
}

/// Writes what the monitor hears into a file.
pub struct Recorder {
    _process: Server,
    file: PathBuf,
}

impl Recorder {
    /// What has been recorded so far, both sides added.
    pub fn heard(&self) -> Vec<f32> {
        let bytes = fs::read(&self.file).unwrap();
        let frames = bytes.chunks_exact(4).map(|frame| {
            let side = |at: usize| f32::from(i16::from_le_bytes([frame[at], frame[at + 1]]));
            (side(0) + side(2)) / 65_536.0
        });
        frames.collect()
    }

    /// Records until `enough` has been heard, and gives all of it.
    pub fn until(&self, enough: impl Fn(&[f32]) -> bool) -> Vec<f32> {
        let deadline = Instant::now() + PATIENCE;
        loop {
            let heard = self.heard();
            if enough(&heard) {
                return heard;
            }
            assert!(Instant::now() < deadline, "never heard, in {} frames", heard.len());
            sleep(Duration::from_millis(40));
        }
    }

    /// Waits until the server has played for a while: at first it wavers in what it says of its own delay, and
    /// who plays by that is moved about.
    pub fn settle(&self) {
        self.until(|heard| heard.len() >= 2 * 48_000);
    }

    /// Records until something sounds, and so many frames more.
    pub fn until_sound(&self, more: usize) -> Vec<f32> {
        self.until(|heard| begin(heard).is_some_and(|at| heard.len() >= at + more))
    }

    /// Records until what sounded is over, for a quarter of a second.
    pub fn until_silence(&self) -> Vec<f32> {
        self.until(|heard| {
            let last = heard.iter().rposition(|x| x.abs() > 1e-3);
            last.is_some_and(|last| heard.len() - last > 12_000)
        })
    }
}

/// Where sound begins.
pub fn begin(sound: &[f32]) -> Option<usize> {
    sound.iter().position(|x| x.abs() > 0.01)
}

pub fn is_inner() -> bool {
    std::env::var_os(INNER).is_some()
}
