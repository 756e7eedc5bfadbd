//! The program itself, playing to a real JACK server, when it is told to end or to stand still: first
//! silence, then the terminal as it was. Parts are skipped where tmux or JACK is missing.

use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::common::name::name_of;
use crate::common::tmux::Pane;
use crate::playing::jack::{Listener, is_inside, signal, with_server_beside_others};
use crate::playing::program::{Player, openchair, song};

const LONG: Duration = Duration::from_secs(20);

fn play(options: &[&str]) -> Player {
    let song = song("lantern-on-the-landing");
    Player::start(openchair().args(["play", &song, "--port", "listener"]).args(options))
}

fn in_a_chord(listener: &mut Listener) {
    assert!(listener.until(LONG, |it| it.sounding().len() >= 5), "it plays a chord");
}

fn is_silent(listener: &mut Listener) {
    assert!(listener.until(Duration::from_secs(2), |it| it.sounding().is_empty()));
}

fn begun(listener: &mut Listener) -> usize {
    listener.listen().iter().filter(|it| it.bytes[0] >> 4 == 9).count()
}

/// Nothing begins any more, although the program is there: the band would play several notes in this time.
fn stays_silent(listener: &mut Listener) {
    let before = begun(listener);
    sleep(Duration::from_millis(300));
    assert_eq!(begun(listener), before);
    assert!(listener.sounding().is_empty());
}

/// The program has gone, and nothing begins that it left behind.
fn leaves_nothing(listener: &mut Listener) {
    let before = begun(listener);
    listener.catch_up();
    assert_eq!(begun(listener), before);
    assert!(listener.sounding().is_empty());
}

#[test]
fn every_signal_ends_it_in_silence() {
    let test = name_of(every_signal_ends_it_in_silence);
    if !is_inside(test) {
        return with_server_beside_others(test, 1024);
    }
    let mut listener = Listener::new("listener");
    for name in ["INT", "TERM", "HUP", "QUIT"] {
        let mut player = play(&["--count-in", "0"]);
        in_a_chord(&mut listener);
        let begun = Instant::now();
        // The second finds it stopping.
        for _ in 0..2 {
            player.signal(name);
            sleep(Duration::from_millis(3));
        }
        player.was_stopped_by(name);
        assert!(listener.sounding().is_empty(), "{name}: {:?}", listener.sounding());
        assert!(begun.elapsed() < Duration::from_secs(3));
        leaves_nothing(&mut listener);
    }
}

#[test]
fn so_it_does_while_counting_in() {
    let test = name_of(so_it_does_while_counting_in);
    if !is_inside(test) {
        return with_server_beside_others(test, 1024);
    }
    let mut listener = Listener::new("listener");
    for name in ["INT", "TERM", "HUP"] {
        let before = listener.listen().len();
        let mut player = play(&["--count-in", "8"]);
        let click = |it: &mut Listener| it.listen()[before..].iter().any(|it| it.bytes[0] == 0x99);
        assert!(listener.until(LONG, click), "it counts in");
        player.stops_at(name);
        leaves_nothing(&mut listener);
        let notes = listener.listen()[before..].iter().filter(|it| it.bytes[0] >> 4 == 9);
        assert!(notes.clone().all(|it| it.bytes[0] == 0x99), "nothing but clicks");
    }
}

fn state(pid: u32) -> Option<char> {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
    stat.rsplit_once(") ")?.1.chars().next()
}

#[test]
#[cfg(target_os = "linux")]
fn without_keys_it_stands_still_in_silence_and_goes_on_by_itself() {
    let test = name_of(without_keys_it_stands_still_in_silence_and_goes_on_by_itself);
    if !is_inside(test) {
        return with_server_beside_others(test, 1024);
    }
    let mut listener = Listener::new("listener");
    let mut player = play(&["--count-in", "0"]);
    // Longer than the two seconds after which a machine counts as having slept, and shorter.
    for stands in [500, 3_000] {
        in_a_chord(&mut listener);
        player.signal("TSTP");
        let pid = player.child.id();
        assert!(listener.until(LONG, |_| state(pid) == Some('T')), "it stands still");
        assert!(listener.sounding().is_empty(), "silent before it stands still");
        let heard = listener.listen().len();
        sleep(Duration::from_millis(stands));
        assert_eq!(listener.listen().len(), heard);
        player.signal("CONT");
        let on = |it: &mut Listener| it.listen()[heard..].iter().any(|it| it.bytes[0] >> 4 == 9);
        assert!(listener.until(LONG, on), "it goes on");
    }
    player.stops_at("INT");
    assert!(listener.sounding().is_empty());
    // Nobody took the port away from it.
    assert_eq!(player.said("has gone"), 0, "{:?}", player.told);
}

/// A shell with job control in a pane, and the program started from it.
fn in_a_shell(test: &str, folder: &Path, options: &str) -> Option<(Pane, u32)> {
    let pane = Pane::run(test, 100, 30, "env PS1='READY> ' ENV= sh -i")?;
    pane.shows("READY>");
    let file = folder.join("pid");
    let line = format!(
        "sh -c 'echo $$ > {}; exec {} play {} --port listener {options}'",
        file.display(),
        env!("CARGO_BIN_EXE_openchair"),
        song("lantern-on-the-landing")
    );
    pane.keys(&[&line, "Enter"]);
    pane.until("the screen", |_| pane.fact("alternate_on") == "1");
    let pid = std::fs::read_to_string(file).unwrap().trim().parse().unwrap();
    Some((pane, pid))
}

/// It has ended with this status.
fn ends_with(pane: &Pane, status: u8) {
    pane.until("the shell's screen", |_| pane.fact("alternate_on") == "0");
    pane.keys(&["echo STATUS $?", "Enter"]);
    pane.shows(&format!("STATUS {status}"));
}

/// The terminal is the shell's again: its screen, its cursor, its line editing.
fn is_restored(pane: &Pane) {
    pane.until("the shell's screen", |_| pane.fact("alternate_on") == "0");
    assert_eq!(pane.fact("cursor_flag"), "1");
    pane.keys(&["stty -a", "Enter"]);
    let seen = pane.shows("icanon");
    assert!(
        !seen.contains("-icanon") && !seen.contains("-echo ") && !seen.contains("-isig"),
        "{seen}"
    );
}

#[test]
fn a_signal_while_paused_gives_the_terminal_back() {
    let test = name_of(a_signal_while_paused_gives_the_terminal_back);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let folder = tempfile::tempdir().unwrap();
    let mut listener = Listener::new("listener");
    for (name, status) in [("INT", 130), ("TERM", 143), ("HUP", 129), ("QUIT", 131)] {
        let Some((pane, pid)) = in_a_shell(test, folder.path(), "--count-in 0") else { return };
        in_a_chord(&mut listener);
        pane.keys(&["Space"]);
        pane.shows("PAUSED");
        is_silent(&mut listener);
        // The second finds it stopping, or gone.
        let twice = format!("kill -{name} {pid}; kill -{name} {pid} 2>/dev/null; true");
        assert!(Command::new("sh").args(["-c", &twice]).status().unwrap().success());
        ends_with(&pane, status);
        is_restored(&pane);
        leaves_nothing(&mut listener);
    }
}

#[test]
fn standing_still_gives_the_terminal_back_until_it_is_called() {
    let test = name_of(standing_still_gives_the_terminal_back_until_it_is_called);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let folder = tempfile::tempdir().unwrap();
    let mut listener = Listener::new("listener");
    let Some((pane, pid)) = in_a_shell(test, folder.path(), "--count-in 0") else { return };
    for by_key in [true, false] {
        in_a_chord(&mut listener);
        if by_key {
            pane.keys(&["C-z"]);
        } else {
            signal(pid, "TSTP");
        }
        pane.until("the shell's screen", |_| pane.fact("alternate_on") == "0");
        assert!(listener.until(LONG, |_| state(pid) == Some('T')), "it stands still");
        assert!(listener.sounding().is_empty(), "silent before it stands still");
        is_restored(&pane);
        stays_silent(&mut listener);
        pane.keys(&["fg", "Enter"]);
        pane.until("the screen again", |seen| {
            pane.fact("alternate_on") == "1" && seen.contains("PAUSED") && seen.contains("key G")
        });
        stays_silent(&mut listener);
        pane.keys(&["Space"]);
        in_a_chord(&mut listener);
    }
    pane.keys(&["q"]);
    ends_with(&pane, 0);
    is_silent(&mut listener);
}

#[test]
#[cfg(target_os = "linux")]
fn a_terminal_that_is_closed_ends_it() {
    let test = name_of(a_terminal_that_is_closed_ends_it);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let folder = tempfile::tempdir().unwrap();
    let mut listener = Listener::new("listener");
    for options in ["--count-in 0", "--count-in 0 --plain"] {
        let file = folder.path().join("pid");
        _ = std::fs::remove_file(&file);
        let line = format!(
            "echo $$ > {}; exec {} play {} --port listener {options}",
            file.display(),
            env!("CARGO_BIN_EXE_openchair"),
            song("lantern-on-the-landing")
        );
        let Some(pane) = Pane::run(test, 100, 30, &line) else { return };
        in_a_chord(&mut listener);
        let pid: u32 = std::fs::read_to_string(file).unwrap().trim().parse().unwrap();
        drop(pane);
        is_silent(&mut listener);
        let gone = listener.until(LONG, |_| state(pid).is_none_or(|state| state == 'Z'));
        if !gone {
            _ = Command::new("sh").args(["-c", &format!("kill -KILL {pid}")]).status();
        }
        assert!(gone, "{options}: it goes on without its terminal");
        leaves_nothing(&mut listener);
    }
}

/// Whoever read the bars has enough: the band does not play on for nobody.
#[test]
fn a_reader_that_goes_ends_it_in_silence() {
    let test = name_of(a_reader_that_goes_ends_it_in_silence);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let mut listener = Listener::new("listener");
    let shell = format!(
        "set -o pipefail; {} play {} --port listener --count-in 0 | head -n 6",
        env!("CARGO_BIN_EXE_openchair"),
        song("lantern-on-the-landing")
    );
    let mut reader =
        Command::new("bash").args(["-c", &shell]).stdout(Stdio::piped()).spawn().unwrap();
    in_a_chord(&mut listener);
    let ended = (0..1_000).find_map(|_| {
        sleep(Duration::from_millis(20));
        listener.listen();
        reader.try_wait().unwrap()
    });
    assert!(ended.expect("it ends").success());
    leaves_nothing(&mut listener);
}

/// A program of a multiplexer that is killed, or a cable that is pulled, sends no hang-up.
#[test]
fn a_terminal_that_goes_without_a_word_ends_it_too() {
    let test = name_of(a_terminal_that_goes_without_a_word_ends_it_too);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let mut listener = Listener::new("listener");
    for options in ["", "--plain"] {
        let folder = tempfile::tempdir().unwrap();
        let (id, status) = (folder.path().join("id"), folder.path().join("status"));
        // The shell between does not hand the hang-up on, and says with what status it ended.
        let shell = format!(
            "trap '' HUP; sh -c 'echo $$ > {}; exec {} play {} --port listener --count-in 0 {options}'; \
             echo $? > {}",
            id.display(),
            env!("CARGO_BIN_EXE_openchair"),
            song("lantern-on-the-landing"),
            status.display()
        );
        let Some(pane) = Pane::run(test, 80, 24, &shell) else { return };
        in_a_chord(&mut listener);
        drop(pane);
        let told = (0..400).find_map(|_| {
            sleep(Duration::from_millis(50));
            listener.listen();
            std::fs::read_to_string(&status).ok().filter(|told| told.ends_with('\n'))
        });
        assert_eq!(told.as_deref().map(str::trim), Some("129"), "{options}: as after a hang-up");
        leaves_nothing(&mut listener);
    }
}

/// How often the threads of a program gave up the processor of their own will.
#[cfg(target_os = "linux")]
fn waits(pid: u32) -> u64 {
    let tasks = std::fs::read_dir(format!("/proc/{pid}/task")).unwrap();
    let each = tasks.filter_map(|task| {
        let path = task.ok()?.path();
        // JACK calls its clients every period, whatever they do, on threads without a name of ours.
        let name = std::fs::read_to_string(path.join("comm")).ok()?;
        let status = std::fs::read_to_string(path.join("status")).ok()?;
        let count =
            status.lines().find_map(|line| line.strip_prefix("voluntary_ctxt_switches:"))?;
        let ours = name.starts_with("openchair-") || path.ends_with(pid.to_string());
        ours.then(|| count.trim().parse::<u64>().unwrap())
    });
    each.sum()
}

/// A laptop on a table is not emptied by a band that waits.
#[test]
#[cfg(target_os = "linux")]
fn a_band_that_waits_lets_the_machine_sleep() {
    let test = name_of(a_band_that_waits_lets_the_machine_sleep);
    if !is_inside(test) {
        return with_server_beside_others(test, 1024);
    }
    let folder = tempfile::tempdir().unwrap();
    let mut listener = Listener::new("listener");
    let Some((pane, pid)) = in_a_shell(test, folder.path(), "--count-in 0") else { return };
    in_a_chord(&mut listener);
    pane.keys(&["Space"]);
    pane.shows("PAUSED");
    is_silent(&mut listener);
    sleep(Duration::from_secs(1));
    let before = waits(pid);
    sleep(Duration::from_secs(4));
    let a_second = (waits(pid) - before) / 4;
    println!("measured: {a_second} wakeups a second while paused");
    assert!(a_second < 20, "{a_second}");
    // And is there at once.
    let heard = listener.listen().len();
    let pressed = Instant::now();
    pane.keys(&["Space"]);
    let on = |it: &mut Listener| it.listen()[heard..].iter().any(|it| it.bytes[0] >> 4 == 9);
    assert!(listener.until(LONG, on));
    assert!(pressed.elapsed() < Duration::from_secs(2), "{:?}", pressed.elapsed());
    pane.keys(&["q"]);
    ends_with(&pane, 0);
}
