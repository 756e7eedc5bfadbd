//! A private PulseAudio with a null sink, whose monitor can be recorded.
#![allow(dead_code, missing_docs, clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// The test is run again in a process of its own, since the sound library reads its environment once.
const INNER: &str = "OPENCHAIR_TEST_INNER";

/// A process that ends with its owner.
pub struct Server(pub Child);

impl Drop for Server {
    fn drop(&mut self) {
        _ = self.0.kill();
        _ = self.0.wait();
    }
}

/// A folder that serves as home, with a socket for the server.
pub struct Private {
    pub folder: tempfile::TempDir,
}

impl Private {
    pub fn new(with_sound: bool) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("run")).unwrap();
        let devices = "pcm.!default { type pulse }\nctl.!default { type pulse }\n";
        if with_sound {
            fs::write(folder.path().join(".asoundrc"), devices).unwrap();
        }
        Self { folder }
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
        let server = Server(command.spawn().ok()?);
        let deadline = Instant::now() + Duration::from_secs(10);
        while !self.socket().exists() {
            if Instant::now() > deadline {
                return None;
            }
            sleep(Duration::from_millis(20));
        }
        Some(server)
    }

    pub fn recorder(&self, file: &Path) -> Option<Server> {
        let mut command = self.command("parec");
        command.args(["--latency-msec=20", "-d", "nul.monitor", "--rate=48000", "--channels=2"]);
        command.args(["--format=s16le", "--raw"]).arg(file);
        let recorder = Server(command.spawn().ok()?);
        // A recording that begins with the sound loses its first moments.
        sleep(Duration::from_millis(2_500));
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

/// A recording of the monitor, both sides added.
pub fn recorded(file: &Path) -> Vec<f32> {
    let bytes = fs::read(file).unwrap();
    let frames = bytes.chunks_exact(4).map(|frame| {
        let side = |at: usize| f32::from(i16::from_le_bytes([frame[at], frame[at + 1]]));
        (side(0) + side(2)) / 65_536.0
    });
    frames.collect()
}

pub fn is_inner() -> bool {
    std::env::var_os(INNER).is_some()
}
