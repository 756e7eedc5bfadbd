//! The real program hears a player through a JACK server: one who plays the song's banjo part beside the band.
//! What it keeps lies where it was played, and the review finds nothing wrong with it.

use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crate::common::name::name_of;
use crate::playing::jack::{is_inside, started, with_server, with_server_beside_others};
use crate::playing::program::{Exported, Player, openchair};
use jack::{
    AsyncClient, Client, Control, MidiIn, MidiOut, Port, ProcessHandler, ProcessScope, RawMidi,
};
use openchair::chart::Role;
use openchair::input::read_recorded;
use openchair::take::Recorded;
use rand_core::Rng;
use rand_pcg::Pcg32;

const RATE: i64 = 48_000;
const PERIOD: u32 = 256;

const SONG: &str = r#"
title = "Coal for the Ferry"
key = "G"
meter = "4/4"
tempo = 160
style = "boom-chick"
ending = "hit"
form = ["verse: fiddle"]
[section.verse]
chords = """
| G | C | G | D |
| G | C | D | G |
"""
"#;

/// Plays a part beside the band, from the first click that is heard on. By the clock, as people do: a server that
/// is held up counts fewer frames.
struct Picker {
    hears: Port<MidiIn>,
    plays: Port<MidiOut>,
    /// Microseconds from the first click on.
    part: Vec<(i64, [u8; 3])>,
    begun: Option<i64>,
    played: usize,
    /// How far it is, for others: nothing heard, and then one more than it has played.
    told: Arc<AtomicUsize>,
}

impl ProcessHandler for Picker {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let now = scope.cycle_times().map_or(0, |times| times.current_usecs as i64);
        for raw in self.hears.iter(scope) {
            if raw.bytes.first() == Some(&0x99) && self.begun.is_none() {
                self.begun = Some(now + i64::from(raw.time) * 1_000_000 / RATE);
            }
        }
        let mut writer = self.plays.writer(scope);
        let Some(begun) = self.begun else { return Control::Continue };
        self.told.store(self.played + 1, Ordering::Release);
        while let Some((at, bytes)) = self.part.get(self.played) {
            let time = (begun + at - now) * RATE / 1_000_000;
            if time >= i64::from(scope.n_frames()) {
                break;
            }
            writer.write(&RawMidi { time: time.max(0) as u32, bytes }).unwrap();
            self.played += 1;
        }
        Control::Continue
    }
}

/// The banjo's notes with one bar of clicks before them, in microseconds, up to 3 ms early or late.
fn part(song: &str) -> Vec<(i64, [u8; 3])> {
    let options = ["--band", "bass,guitar,banjo", "--count-in", "1"];
    let exported = Exported::of(song, &options);
    let mut random = Pcg32::new(5, 5);
    let banjo = exported.notes.iter().filter(|(_, bytes)| bytes[0] & 15 == Role::Banjo.channel());
    let mut part: Vec<(i64, [u8; 3])> = banjo
        .map(|&(tick, bytes)| {
            let off = i64::from(random.next_u32() % 6001) - 3000;
            (tick as i64 * i64::from(exported.micros) / 960 + off, bytes)
        })
        .collect();
    part.sort_unstable();
    part
}

/// A banjo player at "banjo:out", who hears the band at "banjo:in"; and how far it is.
fn picker(part: &[(i64, [u8; 3])]) -> (AsyncClient<(), Picker>, Arc<AtomicUsize>) {
    let client = started("banjo");
    let hears = client.register_port("in", MidiIn::default()).unwrap();
    let plays = client.register_port("out", MidiOut::default()).unwrap();
    let part = part.to_vec();
    let told = Arc::default();
    let picker = Picker { hears, plays, part, begun: None, played: 0, told: Arc::clone(&told) };
    (client.activate_async((), picker).unwrap(), told)
}

fn folder() -> (tempfile::TempDir, String, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("coal-for-the-ferry.toml");
    std::fs::write(&song, SONG).unwrap();
    let take = folder.path().join("take.mid");
    (folder, song.to_str().unwrap().to_owned(), take)
}

fn play(song: &str, take: &Path) -> Player {
    let mut command = openchair();
    command.args(["play", song, "--sit-out", "chop", "--port", "banjo", "--listen", "banjo"]);
    command.args(["--plain", "--record", take.to_str().unwrap()]).stdout(Stdio::piped());
    Player::start(&mut command)
}

fn recorded(path: &Path) -> Recorded {
    read_recorded(&std::fs::read(path).unwrap()).unwrap()
}

fn review(song: &str, take: &Path, more: &[&str]) -> String {
    let mut command = openchair();
    command.args(["review", song, take.to_str().unwrap()]).args(more).stdout(Stdio::piped());
    let output = command.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// Waits for what must come.
fn waits(comes: impl Fn() -> bool) {
    let give_up = Instant::now() + Duration::from_secs(30);
    while !comes() {
        assert!(Instant::now() < give_up, "it never comes");
        thread::sleep(Duration::from_millis(2));
    }
}

#[test]
fn a_steady_player_is_kept_where_she_played_and_told_so() {
    let test = name_of(a_steady_player_is_kept_where_she_played_and_told_so);
    if !is_inside(test) {
        return with_server(test, PERIOD);
    }
    let (_folder, song, take) = folder();
    let part = part(&song);
    let (picker, _) = picker(&part);
    let mut player = play(&song, &take);
    player.says("your instrument is heard");
    player.says("your take is in");
    assert!(player.ends().success(), "{:?}", player.told);
    drop(picker);
    let mut shown = String::new();
    player.child.stdout.take().unwrap().read_to_string(&mut shown).unwrap();

    // Every stroke, where it was played.
    let kept = recorded(&take);
    let run = kept.best_run().unwrap();
    assert_eq!((run.len(), run.ends().unwrap().0), (9, 1), "all of the song");
    let micros = i64::from(run.tempo.micros_per_quarter());
    let mut off: Vec<i64> = kept
        .played
        .iter()
        .filter_map(|(at, played)| Some((at.get() * micros / 960, played.struck()?.0.get())))
        .map(|(at, pitch)| {
            let same = part.iter().filter(|it| it.1[0] >> 4 == 9 && it.1[1] == pitch);
            same.map(|it| at - it.0).min_by_key(|off| off.abs()).unwrap()
        })
        .collect();
    // A server that is held up may let a client miss a period, and what came in it.
    let struck = part.iter().filter(|it| it.1[0] >> 4 == 9).count();
    assert!(off.len() <= struck && off.len() * 100 >= struck * 90, "{} of {struck}", off.len());
    off.sort_unstable_by_key(|off| off.abs());
    let at = |percent: usize| off[(off.len() - 1) * percent / 100];
    println!("measured: strokes kept are off by p50 {} µs, p99 {} µs", at(50), at(99));
    // A period is 5,333 µs.
    assert!(at(75).abs() < 1500, "{off:?}");

    // The file tells what the program told, and neither finds a fault in her time.
    let told = review(&song, &take, &[]);
    assert!(shown.ends_with(&told), "{shown}\n\n{told}");
    let json = review(&song, &take, &["--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((&json["against"], &json["open"][0]), (&"band".into(), &"chop".into()), "{told}");
    let timing = ["rushing", "dragging", "early", "late", "uneven", "lost", "chords"];
    for finding in json["findings"].as_array().unwrap() {
        let about = finding["about"].as_str().unwrap();
        assert!(finding["good"] == true || !timing.contains(&about), "{told}");
    }
    let whole = &json["whole"]["timing"];
    assert!(whole["mean"].as_f64().unwrap().abs() < 8.0, "{whole}");
    let command = json["advice"]["command"].as_str().unwrap();
    assert!(command.contains("--sit-out chop"), "{command}");
}

#[test]
fn whoever_quits_or_whose_terminal_goes_keeps_the_take() {
    let test = name_of(whoever_quits_or_whose_terminal_goes_keeps_the_take);
    if !is_inside(test) {
        return with_server_beside_others(test, PERIOD);
    }
    for signal in ["INT", "HUP"] {
        let (_folder, song, take) = folder();
        let part = part(&song);
        // Into the third bar after the one of clicks, at 160 beats a minute: that stroke has gone out when the
        // next one is waited for.
        let third = part.iter().position(|it| it.0 > 3 * 1_500_000 + 200_000).unwrap() + 1;
        let (picker, told) = picker(&part);
        let mut player = play(&song, &take);
        player.says("your instrument is heard");
        waits(|| told.load(Ordering::Acquire) > third);
        player.stops_at(signal);
        let kept = recorded(&take);
        let last = kept.bars.iter().rev().find_map(|bar| bar.song()).unwrap();
        // All that came, and where it was put: what is lost under load is told by one or the other.
        let (strokes, came) = (kept.strokes(), kept.played.len());
        assert!(strokes > 10, "{strokes} strokes of {came} messages kept; {:?}", player.told);
        assert!(!last.whole, "{:?}", kept.bars);
        assert!(kept.best_run().unwrap().len() >= 2);
        drop(picker);
    }
    // And whoever is not heard loses nothing.
    let (_folder, song, take) = folder();
    std::fs::write(&take, "the take of yesterday").unwrap();
    let (picker, told) = picker(&[]);
    let mut player = play(&song, &take);
    waits(|| told.load(Ordering::Acquire) > 0);
    player.stops_at("INT");
    assert_eq!(player.said("nothing was heard at banjo"), 1, "{:?}", player.told);
    assert_eq!(std::fs::read(&take).unwrap(), b"the take of yesterday");
    drop(picker);
}

/// Yesterday's take stays, today's has a number; and what was played is on the disk long before the end.
#[test]
fn a_take_is_kept_beside_the_last_and_while_it_is_played() {
    let test = name_of(a_take_is_kept_beside_the_last_and_while_it_is_played);
    if !is_inside(test) {
        return with_server_beside_others(test, PERIOD);
    }
    let (_folder, song, take) = folder();
    let part = part(&song);
    std::fs::write(&take, "the take of yesterday").unwrap();
    let second = take.with_file_name("take-2.mid");
    let (picker, _) = picker(&part);
    let mut player = play(&song, &take);
    player.says("take-2.mid");
    player.says("your instrument is heard");
    waits(|| second.is_file());
    // As a machine that stops at once.
    player.signal("KILL");
    let _ = player.child.wait();
    let kept = recorded(&second);
    assert!(kept.strokes() > 10, "{}", kept.strokes());
    assert!(review(&song, &second, &[]).contains("Coal for the Ferry"));
    assert_eq!(std::fs::read(&take).unwrap(), b"the take of yesterday");
    drop(picker);
}
