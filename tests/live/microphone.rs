//! A player heard through a microphone, which is here the sound server's own monitor: it hears the band itself.

use std::fs;
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};

use crate::common::name::name_of;
use crate::common::pulse::Private;
use crate::common::skip::skipped;

/// A banjo alone, which the microphone takes for the player.
const SONG: &str = r#"
title = "Nobody on the Stairs"
key = "G"
meter = "4/4"
tempo = 130
style = "boom-chick"
band = ["banjo"]
ending = "hit"
form = ["verse: voice", "verse: voice"]
[section.verse]
chords = """
| G | C | G | D |
| G | C | D | G |
"""
"#;

/// What the program says, run where the microphone is the monitor: status, standard output and error.
fn says(private: &Private, args: &[&str]) -> (bool, String, String) {
    let mut command = private.command(env!("CARGO_BIN_EXE_openchair"));
    command
        .current_dir(private.folder.path())
        .args(args)
        .stdin(Stdio::null())
        .stderr(Stdio::piped());
    command.env("XDG_DATA_HOME", private.folder.path().join("data"));
    let output = command.output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.success(), text(output.stdout), text(output.stderr))
}

#[test]
fn the_delay_is_measured_kept_and_taken_off() {
    let test = name_of(the_delay_is_measured_kept_and_taken_off);
    let private = Private::new(true);
    let Some(_server) = private.server() else {
        skipped(test, "PulseAudio is not installed or does not start");
        return;
    };
    let (_, ports, _) = says(&private, &["ports"]);
    assert!(ports.contains("Microphones\n"), "{ports}");
    let (done, told, error) = says(&private, &["latency"]);
    assert!(done, "{told}{error}");
    println!("measured: {told}");
    let kept =
        fs::read_to_string(private.folder.path().join("data/openchair/latency.json")).unwrap();
    let kept: serde_json::Value = serde_json::from_str(&kept).unwrap();
    let (name, latency) = kept.as_object().unwrap().iter().next().unwrap();
    assert!(told.starts_with(&format!("{name} hears")), "{told}");
    let millis = latency["milliseconds"].as_f64().unwrap();
    // A server without hardware has no delay but what it says wrongly of its buffers.
    assert!(millis.abs() < 400.0 && latency["spread"].as_f64().unwrap() <= 10.0, "{kept}");

    let song = private.folder.path().join("stairs.toml");
    fs::write(&song, SONG).unwrap();
    let args = ["play", "stairs.toml", "--listen-mic", "--plain", "--record", "take.wav"];
    let (done, review, error) = says(&private, &args);
    assert!(done, "{review}{error}");
    assert!(error.contains("your instrument is heard"), "{error}");
    assert!(error.contains("your take is in take.wav"), "{error}");
    assert!(!error.contains("never measured"), "{error}");
    println!("{review}");
    assert!(review.contains("Nobody on the Stairs"), "{review}\n{error}");
    let (done, heard, _) = says(&private, &["hear", "take.wav", "--json"]);
    let heard: serde_json::Value = serde_json::from_str(&heard).unwrap();
    // Chops behind the singer, rolls in the pauses.
    assert!(done && heard["strokes"].as_array().unwrap().len() > 40, "{heard}");
}

#[test]
fn a_take_is_there_though_the_program_was_killed() {
    let test = name_of(a_take_is_there_though_the_program_was_killed);
    let private = Private::new(true);
    let Some(_server) = private.server() else {
        skipped(test, "PulseAudio is not installed or does not start");
        return;
    };
    fs::write(private.folder.path().join("stairs.toml"), SONG).unwrap();
    let mut command = private.command(env!("CARGO_BIN_EXE_openchair"));
    command.current_dir(private.folder.path()).stdin(Stdio::null()).stdout(Stdio::null());
    command.env("XDG_DATA_HOME", private.folder.path().join("data"));
    command.args(["play", "stairs.toml", "--listen-mic", "--latency", "0", "--plain"]);
    let mut child = command.args(["--record", "take.wav"]).spawn().unwrap();
    let take = private.folder.path().join("take.wav");
    let seconds = || {
        let read = hound::WavReader::open(&take).ok()?;
        Some(f64::from(read.duration()) / f64::from(read.spec().sample_rate))
    };
    let give_up = Instant::now() + Duration::from_secs(60);
    while seconds().is_none_or(|seconds| seconds < 5.0) {
        assert!(Instant::now() < give_up && child.try_wait().unwrap().is_none(), "{:?}", seconds());
        thread::sleep(Duration::from_millis(50));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(seconds().unwrap() >= 5.0);
    let (done, heard, error) = says(&private, &["hear", "take.wav", "--json"]);
    let heard: serde_json::Value = serde_json::from_str(&heard).unwrap();
    assert!(done && !heard["strokes"].as_array().unwrap().is_empty(), "{heard} {error}");
}
