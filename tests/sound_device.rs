//! The band through a sound server: a private PulseAudio with a null sink, whose monitor is recorded
//! and held against the rendered samples. Skipped where PulseAudio or ALSA's way to it is missing.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use common::skip::skipped;
use common::sound::{RATE, band, note, rendered, solo};
use openchair::chart::Role;
use openchair::perform::Performance;
use openchair::sink::{SoundError, SoundOutput, sound_devices};
use openchair::synth::Synth;

/// The test is run again in a process of its own, since the sound library reads its environment once.
const INNER: &str = "OPENCHAIR_TEST_INNER";

/// A process that ends with its owner.
struct Server(Child);

impl Drop for Server {
    fn drop(&mut self) {
        _ = self.0.kill();
        _ = self.0.wait();
    }
}

/// A folder that serves as home, with a socket for the server.
struct Private {
    folder: tempfile::TempDir,
}

impl Private {
    fn new(with_sound: bool) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("run")).unwrap();
        let devices = "pcm.!default { type pulse }\nctl.!default { type pulse }\n";
        if with_sound {
            fs::write(folder.path().join(".asoundrc"), devices).unwrap();
        }
        Self { folder }
    }

    fn socket(&self) -> PathBuf {
        self.folder.path().join("run/pulse.sock")
    }

    fn command(&self, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let mut command = Command::new(program);
        command
            .env("HOME", self.folder.path())
            .env("XDG_RUNTIME_DIR", self.folder.path().join("run"))
            .env("PULSE_RUNTIME_PATH", self.folder.path().join("run"))
            .env("PULSE_SERVER", format!("unix:{}", self.socket().display()))
            .stderr(Stdio::null());
        command
    }

    fn server(&self) -> Option<Server> {
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

    fn recorder(&self, file: &Path) -> Option<Server> {
        let mut command = self.command("parec");
        command.args(["--latency-msec=20", "-d", "nul.monitor", "--rate=48000", "--channels=2"]);
        command.args(["--format=s16le", "--raw"]).arg(file);
        let recorder = Server(command.spawn().ok()?);
        // A recording that begins with the sound loses its first moments.
        sleep(Duration::from_millis(2_500));
        Some(recorder)
    }

    /// Runs the named inner test in this private place.
    fn run(&self, inner: &str) {
        let mut command = self.command(std::env::current_exe().unwrap());
        command.args(["--exact", inner, "--nocapture"]).env(INNER, "1").stderr(Stdio::piped());
        let output = command.output().unwrap();
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{}\n{told}", String::from_utf8_lossy(&output.stdout));
    }
}

fn is_inner() -> bool {
    std::env::var_os(INNER).is_some()
}

fn tune() -> Performance {
    solo(Role::Guitar, (0..6).map(|n| note(200 + 300 * n, 280, 55 + 2 * n as u8, 100)).collect())
}

#[test]
fn plays_what_was_rendered() {
    if is_inner() {
        let output = SoundOutput::open(None).unwrap();
        assert!(sound_devices().iter().any(|device| device.default));
        let synth = Synth::new(&tune(), output.sample_rate());
        let playback = output.start(Box::new(synth)).unwrap();
        let (mut heard, mut failure) = (Vec::new(), None);
        playback
            .wait(|playback| {
                heard.push(playback.heard_frames());
                failure = playback.failure().cloned();
                false
            })
            .unwrap();
        assert_eq!(failure, None);
        assert!(heard.windows(2).all(|pair| pair[1] >= pair[0]), "{heard:?}");
        assert!(heard.last().unwrap() > &48_000);
        return;
    }
    let private = Private::new(true);
    let Some(_server) = private.server() else {
        skipped("plays_what_was_rendered", "PulseAudio is not installed or does not start");
        return;
    };
    let file = private.folder.path().join("heard.raw");
    let Some(recorder) = private.recorder(&file) else {
        skipped("plays_what_was_rendered", "PulseAudio's recorder is not installed");
        return;
    };
    private.run("plays_what_was_rendered");
    sleep(Duration::from_millis(300));
    drop(recorder);
    let bytes = fs::read(&file).unwrap();
    let heard: Vec<f32> = bytes
        .chunks_exact(4)
        .map(|frame| f32::from(i16::from_le_bytes([frame[0], frame[1]])) / 32_768.0)
        .collect();
    let (left, _) = rendered(&mut Synth::new(&tune(), RATE), 4_096);
    let first = |sound: &[f32]| sound.iter().position(|x| x.abs() > 0.01);
    let start = first(&heard).expect("something was heard") - first(&left).unwrap();
    let lost = pieces_lost(&heard[start..], &left[..left.len() - 4_800]);
    // Every sample arrives as it was made, but where a loaded machine's server skips a beat.
    assert!(lost <= 8, "{lost} pieces of 10 ms are not as they were made");
}

/// How many pieces of 480 frames of `made` are not found in `heard`, one after another. A gap moves
/// what comes after it.
fn pieces_lost(heard: &[f32], made: &[f32]) -> usize {
    let same = |at: usize, piece: &[f32]| {
        let there = heard.get(at..at + piece.len());
        there.is_some_and(|there| there.iter().zip(piece).all(|(h, m)| (h - m).abs() < 1e-3))
    };
    let (mut moved, mut lost) = (0_i64, 0);
    for (number, piece) in made.chunks_exact(480).enumerate() {
        let at =
            |moved: i64| usize::try_from(480 * number as i64 + moved).unwrap_or(usize::MAX / 2);
        if same(at(moved), piece) {
            continue;
        }
        let found = (1..24_000).flat_map(|by| [by, -by]).find(|by| same(at(moved + by), piece));
        match found {
            Some(by) => moved += by,
            None => lost += 1,
        }
    }
    lost
}

#[test]
fn the_measure_of_loss_finds_losses() {
    let made: Vec<f32> =
        (0_u64..48_000).map(|n| ((n * n / 7 % 7_919) as f32 / 8_000.0) - 0.5).collect();
    assert_eq!(pieces_lost(&made, &made), 0);
    let gap = [&made[..10_000], &[0.0; 700], &made[10_000..]].concat();
    assert_eq!(pieces_lost(&gap, &made), 1);
    let wrong: Vec<f32> = made.iter().map(|x| x * 0.9).collect();
    assert_eq!(pieces_lost(&wrong, &made), 100);
}

#[test]
fn a_stop_fades_and_ends_soon() {
    if is_inner() {
        let output = SoundOutput::open(None).unwrap();
        let synth = Synth::new(&band(200), output.sample_rate());
        let playback = output.start(Box::new(synth)).unwrap();
        let start = Instant::now();
        playback.wait(|_| start.elapsed() > Duration::from_millis(700)).unwrap();
        assert!(start.elapsed() < Duration::from_millis(700 + 1_500), "{:?}", start.elapsed());
        return;
    }
    let private = Private::new(true);
    let Some(_server) = private.server() else {
        skipped("a_stop_fades_and_ends_soon", "PulseAudio is not installed or does not start");
        return;
    };
    private.run("a_stop_fades_and_ends_soon");
}

#[test]
fn with_no_device_it_is_told_so() {
    if is_inner() {
        match SoundOutput::open(None) {
            Err(error) => {
                assert!(error.is_no_device(), "{error:?}");
                assert!(error.to_string().contains("there is no sound device"), "{error}");
            }
            Ok(output) => assert!(!output.name().is_empty(), "this machine has one"),
        }
        let named = SoundOutput::open(Some("no device is named like this")).err().unwrap();
        assert!(matches!(named, SoundError::NoSuchDevice { .. }), "{named:?}");
        return;
    }
    Private::new(false).run("with_no_device_it_is_told_so");
    // A sound server that is set up but does not run is no device either.
    Private::new(true).run("with_no_device_it_is_told_so");
}
