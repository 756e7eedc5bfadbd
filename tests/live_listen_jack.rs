//! The real program hears a player through a JACK server: one who plays the song's banjo part beside the band,
//! always late by as much. What it keeps lies where it was played.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic)]

mod playing;

use std::path::Path;
use std::time::Duration;

use jack::{
    AsyncClient, Client, Control, MidiIn, MidiOut, Port, ProcessHandler, ProcessScope, RawMidi,
};
use openchair::chart::Role;
use openchair::sink::smf::read_recorded;
use openchair::take::Recorded;
use openchair::time::Ticks;
use playing::jack::{is_inside, started, with_server};
use playing::program::{Exported, Player, median, openchair, song};

const RATE: i64 = 48_000;
const PERIOD: u32 = 256;

/// Plays a part beside the band: from the first click that is heard on, each note on its frame.
struct Picker {
    hears: Port<MidiIn>,
    plays: Port<MidiOut>,
    /// Frames from the first click on.
    part: Vec<(u32, [u8; 3])>,
    begun: Option<u32>,
    played: usize,
}

impl ProcessHandler for Picker {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let first = scope.last_frame_time();
        for raw in self.hears.iter(scope) {
            if raw.bytes.first() == Some(&0x99) && self.begun.is_none() {
                self.begun = Some(first.wrapping_add(raw.time));
            }
        }
        let mut writer = self.plays.writer(scope);
        let Some(begun) = self.begun else { return Control::Continue };
        while let Some((at, bytes)) = self.part.get(self.played) {
            let time = begun.wrapping_add(*at).wrapping_sub(first) as i32;
            if time >= scope.n_frames() as i32 {
                break;
            }
            writer.write(&RawMidi { time: time.max(0) as u32, bytes }).unwrap();
            self.played += 1;
        }
        Control::Continue
    }
}

/// A banjo player at "banjo:out", who hears the band at "banjo:in".
fn picker(notes: &[(u64, [u8; 3])], micros: u32, late: i64) -> AsyncClient<(), Picker> {
    let client = started("banjo");
    let hears = client.register_port("in", MidiIn::default()).unwrap();
    let plays = client.register_port("out", MidiOut::default()).unwrap();
    let frame = |tick: u64| {
        let time = tick as i64 * i64::from(micros) / 960 + late;
        (time * RATE / 1_000_000) as u32
    };
    let part = notes.iter().map(|&(tick, bytes)| (frame(tick), bytes)).collect();
    client.activate_async((), Picker { hears, plays, part, begun: None, played: 0 }).unwrap()
}

/// The banjo's notes of a song with one bar of clicks before it.
fn banjo(name: &str, options: &[&str]) -> Exported {
    let options = [&["--band", "bass,chop,guitar,banjo", "--count-in", "1"], options].concat();
    let mut exported = Exported::of(&song(name), &options);
    exported.notes.retain(|(_, bytes)| bytes[0] & 15 == Role::Banjo.channel());
    exported
}

fn recorded(path: &Path) -> Recorded {
    read_recorded(&std::fs::read(path).unwrap()).unwrap()
}

/// How far each stroke kept lies from the part's, in microseconds.
fn off(kept: &Recorded, part: &Exported, least: usize) -> Vec<i64> {
    let kept: Vec<(Ticks, u8)> = kept
        .played
        .iter()
        .filter_map(|(at, played)| Some((*at, played.struck()?.0.get())))
        .collect();
    let ons = part.notes.iter().filter(|(_, bytes)| bytes[0] >> 4 == 9);
    assert!(kept.len() >= least, "{} strokes", kept.len());
    let off = kept.iter().zip(ons).map(|(&(at, pitch), &(tick, bytes))| {
        assert_eq!(pitch, bytes[1]);
        (at.get() - tick as i64) * i64::from(part.micros) / 960
    });
    off.collect()
}

#[test]
fn what_is_kept_lies_where_it_was_played() {
    let test = "what_is_kept_lies_where_it_was_played";
    if !is_inside(test) {
        return with_server(test, PERIOD);
    }
    const LATE: i64 = 12_000;
    let options = ["--speed", "300"];
    let part = banjo("widow-anselms-gate", &options);
    let picker = picker(&part.notes, part.micros, LATE);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("take.mid");
    let mut command = openchair();
    command.args(["play", &song("widow-anselms-gate"), "--port", "banjo", "--listen", "banjo"]);
    command.args(["--plain", "--record", file.to_str().unwrap()]).args(options);
    let mut player = Player::start(&mut command);
    player.says("your instrument is heard");
    assert!(player.ends().success(), "{:?}", player.told);
    assert_eq!(player.said("your take is in"), 1, "{:?}", player.told);
    drop(picker);

    let kept = recorded(&file);
    let run = kept.best_run().unwrap();
    let form = kept.bars.iter().filter(|bar| bar.song().is_some()).count();
    assert_eq!((run.len(), run.ends().unwrap().0), (form, 1), "all of the song");
    let mut off: Vec<i64> = off(&kept, &part, 100).iter().map(|off| off - LATE).collect();
    let middle = median(&off);
    off.sort_unstable_by_key(|off| (off - middle).abs());
    let p99 = off[(off.len() - 1) * 99 / 100] - middle;
    println!("measured: strokes kept are off by p50 {middle} µs, p99 {p99} µs about that");
    // The picker hears the click on its frame; a period would be 5,333 µs.
    assert!(middle.abs() < 1000, "{off:?}");
    assert!(off[(off.len() - 1) * 90 / 100] - middle < 1000, "{off:?}");
}
