//! Through a real JACK server: each message on its exact frame, none lost, none left sounding.

use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use crate::common::name::name_of;
use crate::common::skip::skipped;
use crate::playing;
use crate::playing::jack::{
    Listener, SERVER_PID, again, is_inside, passed, signal, with_server, with_server_beside_others,
};
use crate::playing::{NoPlay, play_to_port};
use openchair::live::{Control, PlayError, stop_on_signals};
use openchair::perform::Performance;
use openchair::ports::{MidiSystem, PortTarget, ports_list};
use openchair::sink::SendError;
use openchair::time::{Meter, Tempo};

fn to_listener() -> PortTarget {
    PortTarget::Named("LISTENER".to_owned())
}

fn play(
    performance: &Performance,
    target: &PortTarget,
) -> Result<openchair::live::PlayReport, NoPlay> {
    play_to_port(performance, target, &Control::new())
}

/// Plays and compares every arrival with the frame that its time asks for.
fn exact_frames(test: &str, period: u32, bars: i64) {
    if !is_inside(test) {
        return with_server(test, period);
    }
    let mut listener = Listener::new("listener");
    let rate = i64::from(listener.client().sample_rate());
    let mut performance = playing::performance(11, bars);
    // Twice as fast as the others: as many messages in half the time.
    performance.tempo = Tempo::new(300.0, Meter::FourFour, 100.0);
    let due = playing::due(&performance);
    let report = play(&performance, &to_listener()).unwrap();
    // All of it has come although the port is closed by now.
    let heard = listener.listen();
    assert_eq!(report.sent, due.len());
    assert_eq!(heard.len(), due.len());
    for (it, due) in heard.iter().zip(&due) {
        let (bytes, length) = due.message.bytes();
        assert_eq!((it.bytes, it.length), (bytes, length));
    }
    let arrivals = heard.iter().zip(&due).map(|(it, wanted)| {
        let frame = i64::from(it.frame.wrapping_sub(heard[0].frame));
        let after_first = wanted.at.0 - due[0].at.0;
        let expected = (after_first * rate + 500_000_000) / 1_000_000_000;
        (frame, frame - expected)
    });
    let arrivals: Vec<(i64, i64)> = arrivals.collect();
    let off = arrivals.iter().filter(|&&(_, off)| off != 0).count();
    let most = arrivals.iter().map(|&(_, off)| off.abs()).max();
    let losses = report.losses;
    println!(
        "measured: {test}: {} messages, {off} off their exact frame, by {most:?} at most; {losses:?}",
        arrivals.len()
    );
    if losses.dropouts == 0 {
        assert_eq!((off, losses.late), (0, 0));
    }
    // A server that dropped out has taken some time; what is not late by that draws level with the
    // clock again, by no more than a frame in 2,000.
    let jumps = arrivals.windows(2).filter(|pair| {
        let ((frame, off), (next_frame, next_off)) = (pair[0], pair[1]);
        (next_off - off).abs() > 1 + (next_frame - frame) / 2000
    });
    // A late message lies apart from the one before and from the one after, and so do those of the period
    // that the server dropped out of: it gives them out a period off.
    assert!(jumps.count() as u64 <= 2 * (losses.late + losses.dropouts), "{arrivals:?}");
    assert!(losses.late < arrivals.len() as u64 / 10, "the server hardly kept up");
    assert!(listener.sounding().is_empty());
}

#[test]
fn every_message_comes_on_its_exact_frame() {
    exact_frames(name_of(every_message_comes_on_its_exact_frame), 128, 13);
}

#[test]
fn long_periods_are_no_less_exact() {
    exact_frames(name_of(long_periods_are_no_less_exact), 2048, 5);
}

/// What a program does that plays and is to be interrupted.
fn player(seconds: i64) {
    let control = Control::new();
    stop_on_signals(&control).unwrap();
    let performance = playing::performance(11, seconds * 10 / 16);
    let report = play_to_port(&performance, &to_listener(), &control).unwrap();
    assert!(report.stopped, "it was to be stopped");
}

fn interrupted(test: &str, signals: &[&str]) {
    let playing = format!("{test}, playing");
    if is_inside(&playing) {
        return player(60);
    }
    if !is_inside(test) {
        return with_server_beside_others(test, 1024);
    }
    let mut listener = Listener::new("listener");
    for chord in [5, 7] {
        let player = again(test, &playing).stdout(Stdio::piped()).spawn().unwrap();
        let in_chord = listener.until(Duration::from_secs(20), |it| it.sounding().len() >= chord);
        assert!(in_chord, "it plays a chord");
        let begun = Instant::now();
        for name in signals {
            signal(player.id(), name);
            thread::sleep(Duration::from_millis(3));
        }
        passed(player.wait_with_output().unwrap());
        let took = begun.elapsed();
        assert!(listener.sounding().is_empty(), "still sounding: {:?}", listener.sounding());
        assert!(took < Duration::from_secs(2), "stopping took {took:?}");
        let silent = listener.listen().len();
        assert_eq!(listener.catch_up().len(), silent, "nothing comes after");
    }
}

#[test]
fn no_note_is_left_after_ctrl_c_in_a_chord() {
    interrupted(name_of(no_note_is_left_after_ctrl_c_in_a_chord), &["INT"]);
}

#[test]
fn nor_after_a_second_one_while_it_stops() {
    interrupted(name_of(nor_after_a_second_one_while_it_stops), &["INT", "INT", "TERM", "HUP"]);
}

#[test]
fn a_server_that_dies_is_a_clear_error() {
    let test = name_of(a_server_that_dies_is_a_clear_error);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let mut listener = Listener::new("listener");
    let playing = thread::spawn(|| play(&playing::performance(11, 20), &to_listener()));
    if !listener.until(Duration::from_secs(10), |it| it.listen().len() > 50) {
        panic!("it does not play: {:?}", playing.join());
    }
    let begun = Instant::now();
    signal(std::env::var(SERVER_PID).unwrap().parse().unwrap(), "TERM");
    let error = playing.join().unwrap().unwrap_err();
    assert_eq!(error, NoPlay::Play(PlayError::Port(SendError::ServerStopped)));
    assert!(begun.elapsed() < Duration::from_secs(6), "{:?}", begun.elapsed());
    // The dead server's client can't be taken down in an orderly way.
    std::mem::forget(listener);
}

#[test]
fn its_ports_are_listed_beside_the_systems() {
    let test = name_of(its_ports_are_listed_beside_the_systems);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let mut listener = Listener::new("listener");
    let list = ports_list();
    let found = list.outputs.iter().find(|port| port.name == "listener:in").unwrap();
    assert_eq!(found.system, MidiSystem::Jack);
    assert!(list.inputs.iter().all(|port| port.name != "listener:in"));
    let error = play(&playing::performance(1, 2), &PortTarget::Named("organ".to_owned()));
    let Err(NoPlay::Port(error)) = error else { panic!("it played to nobody: {error:?}") };
    assert!(error.to_string().contains("listener:in (jack)"));

    // Where the system has no MIDI of its own, JACK's port waits for others to connect.
    if list.hints.is_empty() {
        return;
    }
    let control = Control::new();
    let playing = control.clone();
    let player = thread::spawn(move || {
        play_to_port(&playing::performance(1, 20), &PortTarget::Virtual, &playing)
    });
    let connected = listener.until(Duration::from_secs(5), |it| {
        it.client().connect_ports_by_name("openchair:band", "listener:in").is_ok()
    });
    assert!(connected);
    assert!(listener.until(Duration::from_secs(10), |it| it.sounding().len() > 3));
    control.stop();
    assert!(player.join().unwrap().unwrap().stopped);
    assert!(listener.sounding().is_empty());
}

#[test]
fn without_a_server_it_is_quietly_not_there() {
    let test = name_of(without_a_server_it_is_quietly_not_there);
    if is_inside(test) {
        let list = ports_list();
        assert!(list.outputs.iter().chain(&list.inputs).all(|it| it.system != MidiSystem::Jack));
        assert!(play(&playing::performance(1, 2), &to_listener()).is_err());
        return;
    }
    // JACK's library starts a server by the command in this file, unless told not to.
    let home = tempfile::tempdir().unwrap();
    let started = home.path().join("started");
    let command = format!("/usr/bin/touch {}", started.display());
    std::fs::write(home.path().join(".jackdrc"), command).unwrap();
    let mut child = again(test, test);
    child.env("JACK_DEFAULT_SERVER", "openchair-none").env("HOME", home.path());
    let output = child.output().unwrap();
    assert_eq!(String::from_utf8_lossy(&output.stderr), "", "libraries are kept off the screen");
    passed(output);
    assert!(!started.exists(), "it starts no server");
}

/// Who has a JACK server and no sound device is told how to play to it, with the synthesizer's port by name once there
/// is one, and finds no sound file in their folder.
#[test]
fn without_a_sound_device_it_says_how_to_play_to_the_server() {
    let test = name_of(without_a_sound_device_it_says_how_to_play_to_the_server);
    if !is_inside(test) {
        return with_server_beside_others(test, 1024);
    }
    if !openchair::sink::quietly(openchair::sink::sound_devices).is_empty() {
        return skipped(test, "there is a sound device");
    }
    let folder = tempfile::tempdir().unwrap();
    // The program does not wait for a server that is still starting; this does.
    drop(Listener::new("first"));
    let told = || {
        let done = Command::new(env!("CARGO_BIN_EXE_openchair"))
            .args(["play", "one-plank-short", "--plain"])
            .current_dir(folder.path())
            .output()
            .unwrap();
        let said = String::from_utf8(done.stderr).unwrap();
        assert_eq!(done.status.code(), Some(1), "{said}");
        said
    };
    let alone = told();
    assert!(alone.contains("a JACK server is running: start a synthesizer in it"), "{alone}");
    let _listener = Listener::new("attic synth");
    let with_synth = told();
    assert!(with_synth.contains("add --port \"attic synth:"), "{with_synth}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "no file is written");
}
