//! A JACK server that stands still for a moment under the program: who plays to what is heard is kept on the beat, before
//! and after, and the bars in which it happened are marked.

use std::process::Stdio;
use std::thread;
use std::time::Duration;

use crate::common::name::name_of;
use crate::playing::jack::{Listener, SERVER_PID, Sender, is_inside, signal, started, with_server};
use crate::playing::program::{Exported, Player, openchair};
use jack::{Client, Control, MidiIn, MidiOut, Port, ProcessHandler, ProcessScope, RawMidi};
use openchair::chart::Role;
use openchair::input::read_recorded;

const PERIOD: u32 = 256;

const SONG: &str = r#"
title = "The Barrow Wheel"
key = "G"
meter = "4/4"
tempo = 120
style = "boom-chick"
ending = "hit"
form = ["verse: fiddle", "verse: fiddle"]
[section.verse]
chords = """
| G | C | G | D |
| G | C | D | G |
"""
"#;

/// Strikes each note of the bass in the frame in which it is heard: nobody is more together with the band.
struct Echo {
    hears: Port<MidiIn>,
    plays: Port<MidiOut>,
}

impl ProcessHandler for Echo {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let mut writer = self.plays.writer(scope);
        for raw in self.hears.iter(scope) {
            let bass = Role::Bass.channel();
            if raw.bytes.len() == 3 && [0x80 | bass, 0x90 | bass].contains(&raw.bytes[0]) {
                let bytes = &[raw.bytes[0], raw.bytes[1] + 12, raw.bytes[2]];
                writer.write(&RawMidi { time: raw.time, bytes }).unwrap();
            }
        }
        Control::Continue
    }
}

/// The server does nothing for a while that is longer than what is queued for it.
fn stands_still() {
    let server = std::env::var(SERVER_PID).unwrap().parse().unwrap();
    signal(server, "STOP");
    thread::sleep(Duration::from_millis(80));
    signal(server, "CONT");
}

#[test]
fn who_is_with_the_band_is_kept_so_though_the_server_stood_still() {
    let test = name_of(who_is_with_the_band_is_kept_so_though_the_server_stood_still);
    if !is_inside(test) {
        return with_server(test, PERIOD);
    }
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("the-barrow-wheel.toml");
    std::fs::write(&song, SONG).unwrap();
    let (song, take) = (song.to_str().unwrap(), folder.path().join("take.mid"));
    let exported = Exported::of(song, &["--count-in", "1"]);
    let bass: Vec<i64> = exported
        .notes
        .iter()
        .filter(|(_, bytes)| bytes[0] == 0x90 | Role::Bass.channel())
        .map(|&(tick, _)| tick as i64)
        .collect();

    let client = started("echo");
    let hears = client.register_port("in", MidiIn::default()).unwrap();
    let plays = client.register_port("out", MidiOut::default()).unwrap();
    let echo = client.activate_async((), Echo { hears, plays }).unwrap();
    let mut command = openchair();
    command.args([
        "play",
        song,
        "--port",
        "echo",
        "--listen",
        "echo",
        "--count-in",
        "1",
        "--plain",
    ]);
    command.args(["--record", take.to_str().unwrap()]).stdout(Stdio::null());
    let mut player = Player::start(&mut command);
    player.says("your instrument is heard");
    // In the fifth bar or so, and once more ten seconds later.
    for _ in 0..2 {
        thread::sleep(Duration::from_secs(8));
        stands_still();
    }
    player.says("your take is in");
    assert!(player.ends().success(), "{:?}", player.told);
    drop(echo);

    let kept = read_recorded(&std::fs::read(&take).unwrap()).unwrap();
    let micros = i64::from(exported.micros);
    let off: Vec<(usize, i64)> = kept
        .played
        .iter()
        .filter(|(_, it)| it.struck().is_some())
        .map(|&(at, _)| {
            let nearest = bass.iter().map(|tick| at.get() - tick).min_by_key(|off| off.abs());
            let bar = kept.bars.iter().position(|bar| at < bar.end()).unwrap();
            (bar, nearest.unwrap() * micros / 960)
        })
        .collect();
    let lost: Vec<usize> = (0..kept.bars.len())
        .filter(|&bar| kept.bars[bar].song().is_some_and(|it| it.lost_time))
        .collect();
    let elsewhere: Vec<i64> =
        off.iter().filter(|(bar, _)| !lost.contains(bar)).map(|it| it.1).collect();
    let most = elsewhere.iter().map(|off| off.abs()).max().unwrap();
    let here = off.iter().filter(|(bar, _)| lost.contains(bar)).map(|it| it.1.abs()).max();
    println!(
        "measured: stood still for 80 ms twice: {most} µs off at most, {here:?} in bars {lost:?}"
    );
    // A tick is 0.5 ms.
    assert!(most <= 1_000, "{off:?}");
    assert!((1..=8).contains(&lost.len()), "{lost:?}");
}

/// The band is paused and goes on by a pedal, after a server that stood still before each time: the first stroke lies as far
/// before the second as that before the third.
#[test]
fn the_first_stroke_after_a_pause_is_in_time_though_the_server_stood_still() {
    let test = name_of(the_first_stroke_after_a_pause_is_in_time_though_the_server_stood_still);
    if !is_inside(test) {
        return with_server(test, PERIOD);
    }
    /// At 120 beats a minute, with a stroke on each beat.
    const BEAT: i64 = 24_000;
    let mut listener = Listener::new("listener");
    assert_eq!(listener.client().sample_rate(), 48_000);
    let mut foot = Sender::new("footboard", 1);
    let folder = tempfile::tempdir().unwrap();
    let settings = folder.path().join("openchair");
    std::fs::create_dir_all(&settings).unwrap();
    std::fs::write(settings.join("pedals.toml"), "[pedal]\n\"note 36 channel 10\" = \"pause\"\n")
        .unwrap();
    let song = folder.path().join("the-barrow-wheel.toml");
    std::fs::write(&song, SONG).unwrap();
    let mut command = openchair();
    command.args(["play", song.to_str().unwrap(), "--port", "listener", "--pedal", "footboard"]);
    command.args(["--feel", "grid", "--band", "bass,chop", "--count-in", "0", "--plain"]);
    command.env("XDG_CONFIG_HOME", folder.path()).stdout(Stdio::null());
    let mut player = Player::start(&mut command);
    player.says("playing to");
    let mut off = Vec::new();
    for _ in 0..4 {
        thread::sleep(Duration::from_millis(1_700));
        stands_still();
        thread::sleep(Duration::from_millis(1_000));
        foot.say(&[0x99, 36, 90]);
        let silent = |it: &mut Listener| it.sounding().is_empty();
        assert!(listener.until(Duration::from_secs(3), silent), "it pauses");
        thread::sleep(Duration::from_millis(700));
        listener.catch_up();
        let from = listener.all.len();
        foot.say(&[0x99, 36, 90]);
        // The bass's, for a chop's strings are struck one after the other.
        let bass = |it: &mut Listener| -> Vec<u32> {
            let heard = it.listen()[from..].iter();
            let ons = heard.filter(|it| it.bytes[0] == 0x90 | Role::Bass.channel());
            ons.map(|it| it.frame).collect()
        };
        assert!(listener.until(Duration::from_secs(8), |it| bass(it).len() >= 3), "it goes on");
        let strokes = bass(&mut listener);
        // The next beat of the grid or the one after it, for there may be a walk.
        let from_grid =
            |one: u32, next: u32| (i64::from(next.wrapping_sub(one)) + BEAT / 2) % BEAT - BEAT / 2;
        let (first, second) =
            (from_grid(strokes[0], strokes[1]), from_grid(strokes[1], strokes[2]));
        off.push((first, second));
    }
    player.signal("INT");
    player.ends();
    println!("measured: after each of four pauses, frames off of the first two beats: {off:?}");
    // 5 ms is less than anyone notices between two strokes (6 ms is what is just noticed: Friberg and Sundberg 1995, from memory).
    assert!(off.iter().all(|(first, second)| first.abs() < 240 && second.abs() < 240), "{off:?}");
}
