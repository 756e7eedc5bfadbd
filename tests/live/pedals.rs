//! Teaching pedals with the real program, and a client of a real JACK server for a foot.

use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use crate::common::name::name_of;
use crate::playing::jack::{Sender, is_inside, signal, with_server_beside_others};
use openchair::live::{Action, PedalMap, Trigger, listen_to_pedals};
use openchair::time::Nanos;

const PEDAL: &str = "footboard:out 1";

fn program(home: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_openchair"));
    command.arg("learn").args(args).env("HOME", home).env("XDG_CONFIG_HOME", home.join("settings"));
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn run(home: &Path, args: &[&str]) -> (bool, String) {
    said(program(home, args).output().unwrap())
}

fn said(output: Output) -> (bool, String) {
    let text = [output.stdout, output.stderr].concat();
    (output.status.success(), String::from_utf8(text).unwrap())
}

/// Starts teaching, and returns once it listens.
fn listening(home: &Path, args: &[&str]) -> Child {
    let mut child = program(home, args).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(child.stderr.as_mut().unwrap()).read_line(&mut line).unwrap();
    assert!(line.contains("press the pedal"), "{line}");
    child
}

/// What it says in the end.
fn ended(mut child: Child) -> (bool, String) {
    let give_up = Instant::now() + Duration::from_secs(20);
    while child.try_wait().unwrap().is_none() {
        if Instant::now() > give_up {
            child.kill().unwrap();
            panic!("it does not end");
        }
        thread::sleep(Duration::from_millis(10));
    }
    let mut text = String::new();
    child.stdout.take().unwrap().read_to_string(&mut text).unwrap();
    child.stderr.take().unwrap().read_to_string(&mut text).unwrap();
    (child.wait().unwrap().success(), text)
}

#[test]
fn a_pedal_is_taught_moved_and_forgotten() {
    let test = name_of(a_pedal_is_taught_moved_and_forgotten);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let mut foot = Sender::new("footboard", 1);
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("settings/openchair/pedals.toml");

    let child = listening(home.path(), &["pause", "--pedal", "footboard"]);
    // What is no press is passed over.
    for bytes in [&[0x89, 36, 64][..], &[0xF8], &[0xB0, 64, 3], &[0x99, 36, 90]] {
        foot.say(bytes);
    }
    let (well, text) = ended(child);
    assert!(well && text.contains("note 36 channel 10 does `pause` from now on"), "{text}");
    let taught = fs::read_to_string(&file).unwrap();
    assert!(taught.contains("\"note 36 channel 10\" = \"pause\""), "{taught}");

    // The player's own words stay; the pedal is named by its whole name, or not at all.
    fs::write(&file, format!("{taught}# the left one\n")).unwrap();
    let child = listening(home.path(), &["count-in", "--pedal", PEDAL]);
    foot.say(&[0x99, 36, 1]);
    let (well, text) = ended(child);
    assert!(well && text.contains("does `count-in` from now on, no longer `pause`"), "{text}");
    let child = listening(home.path(), &["tap"]);
    foot.say(&[0xB2, 64, 127]);
    let (well, text) = ended(child);
    assert!(well && text.contains("controller 64 channel 3 does `tap`"), "{text}");
    let taught = fs::read_to_string(&file).unwrap();
    assert!(taught.contains("= \"count-in\"") && taught.contains("# the left one"), "{taught}");
    assert!(!taught.contains("pause\""), "{taught}");

    let (well, text) = run(home.path(), &[]);
    assert!(well && text.contains("taught: note 36 channel 10"), "{text}");
    let (well, text) = run(home.path(), &["--forget", "count-in"]);
    assert!(well && text.contains("no longer taught by note 36 channel 10"), "{text}");
    assert!(!fs::read_to_string(&file).unwrap().contains("count-in"));
    let (well, text) = run(home.path(), &["--forget", "count-in"]);
    assert!(!well && text.contains("no pedal is taught"), "{text}");

    // Ctrl-C leaves all as it is.
    let before = fs::read(&file).unwrap();
    let child = listening(home.path(), &["help", "--pedal", "footboard"]);
    signal(child.id(), "INT");
    let (well, text) = ended(child);
    assert!(!well && text.contains("nothing was taught"), "{text}");
    assert_eq!(fs::read(&file).unwrap(), before);
}

#[test]
fn what_was_taught_is_done_when_the_pedal_is_pressed() {
    let test = name_of(what_was_taught_is_done_when_the_pedal_is_pressed);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let mut foot = Sender::new("footboard", 1);
    let mut map = PedalMap::new();
    map.teach(Trigger::Note { channel: 9, note: 36 }, Action::PauseOrGo);
    let (to, done) = mpsc::channel();
    let epoch = Instant::now();
    let (input, name) = listen_to_pedals(&map, "footboard", epoch, move |at: Nanos, action| {
        to.send((at, action)).unwrap();
    })
    .unwrap();
    assert_eq!(name, format!("{PEDAL} (jack)"));
    let from = epoch.elapsed();
    // Bounces within a few milliseconds.
    for bytes in [[0x99, 36, 90], [0x89, 36, 0], [0x99, 36, 70], [0x99, 38, 90]] {
        foot.say(&bytes);
    }
    let (at, action) = done.recv_timeout(Duration::from_secs(5)).unwrap();
    assert_eq!(action, Action::PauseOrGo);
    let at = Duration::from_nanos(at.0 as u64);
    assert!(at + Duration::from_millis(50) > from && at < epoch.elapsed());
    assert!(done.recv_timeout(Duration::from_millis(200)).is_err(), "once");
    drop(input);
}

#[test]
fn a_file_with_mistakes_is_shown_and_left_alone() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("settings/openchair");
    fs::create_dir_all(&folder).unwrap();
    let file = folder.join("pedals.toml");
    for wrong in ["[pedal]\n\"note 36 channel 10\" = \"puase\"\n", "[pedal\n", "\u{feff}\u{0}"] {
        fs::write(&file, wrong).unwrap();
        for args in [&[][..], &["pause"], &["--forget", "pause"]] {
            let (well, text) = run(home.path(), args);
            assert!(!well && text.contains("pedals.toml:"), "{text}");
        }
        assert_eq!(fs::read_to_string(&file).unwrap(), wrong);
    }
    fs::remove_file(&file).unwrap();
    let (well, text) = run(home.path(), &["puase"]);
    assert!(!well && text.contains("did you mean `pause`?"), "{text}");
    let (well, text) = run(home.path(), &["xylophone"]);
    assert!(!well && text.contains("`openchair learn` lists them"), "{text}");
    let (well, text) = run(home.path(), &[]);
    assert!(well && text.contains("section-forward") && !text.contains("taught: "), "{text}");
    assert!(!file.exists());
}
