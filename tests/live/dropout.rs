//! A JACK server that stands still for a moment under the program: who plays to what is heard is kept on the beat, before
//! and after, and the bars in which it happened are marked.

use std::process::Stdio;
use std::thread;
use std::time::Duration;

use crate::common::name::name_of;
use crate::playing::jack::{SERVER_PID, is_inside, signal, started, with_server};
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
        let server = std::env::var(SERVER_PID).unwrap().parse().unwrap();
        signal(server, "STOP");
        thread::sleep(Duration::from_millis(80));
        signal(server, "CONT");
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
