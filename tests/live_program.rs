//! The program itself, playing to a real JACK server: what comes through the port is what the exported
//! file holds, and Ctrl-C leaves no note sounding.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)]

mod playing;

use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use midly::{MidiMessage, Smf, Timing, TrackEventKind};
use playing::jack::{Listener, is_inside, signal, with_server};

fn song(name: &str) -> String {
    format!("{}/songs/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

fn openchair() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_openchair"));
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
    command
}

/// When in the file (ticks) and which bytes: every note-on, and where it ends its note-off.
fn exported(song: &str, options: &[&str]) -> (Vec<(u64, [u8; 3])>, u32) {
    let output = openchair()
        .args(["export", song, "-o", "-", "--format", "mid"])
        .args(options)
        .stdout(Stdio::piped())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let smf = Smf::parse(&output.stdout).unwrap();
    assert_eq!(smf.header.timing, Timing::Metrical(960.into()));
    let mut tempo = None;
    let mut notes = Vec::new();
    for track in &smf.tracks {
        let mut at = 0;
        for event in track {
            at += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Midi { channel, message: MidiMessage::NoteOn { key, vel } } => {
                    notes.push((at, [0x90 | channel.as_int(), key.as_int(), vel.as_int()]));
                }
                TrackEventKind::Midi { channel, message: MidiMessage::NoteOff { key, .. } } => {
                    notes.push((at, [0x80 | channel.as_int(), key.as_int(), 0]));
                }
                TrackEventKind::Meta(midly::MetaMessage::Tempo(micros)) => {
                    tempo = Some(micros.as_int());
                }
                _ => {}
            }
        }
    }
    (notes, tempo.unwrap())
}

#[test]
fn the_port_gets_what_the_file_holds() {
    let test = "the_port_gets_what_the_file_holds";
    if !is_inside(test) {
        return with_server(test, 256);
    }
    // A song of four minutes, played four times as fast unless asked otherwise.
    let speed = std::env::var("OPENCHAIR_TEST_SPEED").unwrap_or("400".to_owned());
    let options = ["--speed", &speed, "--count-in", "1", "--seed", "5"];
    let song = song("lantern-on-the-landing");
    let (mut file, micros) = exported(&song, &options);
    let mut listener = Listener::new("listener");
    let rate = u64::from(listener.client().sample_rate());
    let played =
        openchair().args(["play", &song, "--port", "listener"]).args(options).output().unwrap();
    let told = String::from_utf8_lossy(&played.stderr);
    assert!(played.status.success(), "{told}");
    // What a dropout of the server takes is told; without one all must be exact.
    let dropped_out = told.contains("lost time");

    let notes = listener.listen().iter().filter(|heard| matches!(heard.bytes[0] >> 4, 8 | 9));
    let mut heard: Vec<(u32, [u8; 3])> = notes
        .map(|heard| match heard.bytes {
            [status @ 0x80..=0x8F, pitch, _] => (heard.frame, [status, pitch, 0]),
            on => (heard.frame, on),
        })
        .collect();
    let first = heard[0].0;
    let frame_of = |tick: u64| (tick * u64::from(micros) * rate + 480_000_000) / 960_000_000;
    // By note, then by time: the order within one frame is free.
    heard
        .sort_by_key(|&(frame, bytes)| (bytes[0] & 15, bytes[1], frame.wrapping_sub(first), bytes));
    file.sort_by_key(|&(tick, bytes)| (bytes[0] & 15, bytes[1], frame_of(tick), bytes));
    assert_eq!(heard.len(), file.len(), "{told}");
    let start = file.iter().map(|&(tick, _)| frame_of(tick)).min().unwrap();
    for (&(frame, heard), &(tick, wanted)) in heard.iter().zip(&file) {
        assert_eq!(heard, wanted, "at tick {tick}");
        let off = i64::from(frame.wrapping_sub(first)) - (frame_of(tick) - start) as i64;
        // Rounded twice, from ticks and from the first message.
        assert!(dropped_out || off.abs() <= 1, "{off} frames off at tick {tick}");
    }
    println!("measured: {} messages as in the file; dropouts: {dropped_out}", heard.len());
    assert!(listener.sounding().is_empty());
}

#[test]
fn ctrl_c_leaves_no_note_sounding() {
    let test = "ctrl_c_leaves_no_note_sounding";
    if !is_inside(test) {
        return with_server(test, 1024);
    }
    let mut listener = Listener::new("listener");
    for signals in [["INT", "INT"], ["TERM", "HUP"]] {
        let player = openchair()
            .args(["play", &song("lantern-on-the-landing"), "--port", "listener"])
            .spawn()
            .unwrap();
        let in_chord = listener.until(Duration::from_secs(20), |it| it.sounding().len() >= 5);
        let begun = Instant::now();
        for name in signals {
            signal(player.id(), name);
            thread::sleep(Duration::from_millis(3));
        }
        let output = player.wait_with_output().unwrap();
        let took = begun.elapsed();
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(in_chord, "it plays a chord: {told}");
        assert_eq!(output.status.code(), Some(0), "{told}");
        assert!(listener.sounding().is_empty(), "still sounding: {:?}", listener.sounding());
        assert!(took < Duration::from_secs(2), "stopping took {took:?}");
    }
}
