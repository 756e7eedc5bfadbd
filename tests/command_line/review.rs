//! `openchair review` as typed: takes from files, in words and as JSON, and what is said of takes that are none.

use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use crate::common::player::{Habit, Manner, evening, take, take_of};
use crate::common::sound;
use crate::common::typed::{SONG, openchair};
use openchair::chart::Role;
use openchair::sink::{smf, write_wav};
use openchair::synth::Synth;
use openchair::take::Take;
use openchair::theory::MidiNote;
use predicates::prelude::*;
use predicates::str::{contains, is_empty};
use serde_json::Value;
use tempfile::TempDir;

/// A bar of count-in at the song's 108 beats a minute, in seconds.
const COUNT_IN: f64 = 4.0 * 60.0 / 108.0;

/// The first 32 bars of a take of somebody who plays with bass and guitar.
fn played(habit: Habit) -> Take {
    let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
    let mut take = take(&evening, habit, 12, COUNT_IN);
    take.hits.retain(|hit| hit.at.seconds() < COUNT_IN * 33.0);
    take
}

/// As notes of a banjo.
fn notes(take: &Take) -> openchair::perform::Performance {
    let notes = take.hits.iter().flat_map(|hit| {
        let start = (hit.at.seconds() * 1e3).round() as i64;
        hit.pitches.iter().map(move |pitch| sound::note(start, 100, pitch.get(), hit.loud))
    });
    sound::solo(Role::Banjo, notes.collect())
}

fn midi(folder: &TempDir, habit: Habit) -> PathBuf {
    let path = folder.path().join("take.mid");
    fs::write(&path, smf::to_bytes(&notes(&played(habit))).unwrap()).unwrap();
    path
}

fn wav(folder: &TempDir, habit: Habit) -> PathBuf {
    let path = folder.path().join("take.wav");
    let mut out = Cursor::new(Vec::new());
    write_wav(&mut Synth::new(&notes(&played(habit)), sound::RATE), &mut out).unwrap();
    fs::write(&path, out.into_inner()).unwrap();
    path
}

fn json(path: &Path, options: &[&str]) -> Value {
    let args = [&["review", SONG, path.to_str().unwrap(), "--json"], options].concat();
    let done = openchair(&args).success();
    serde_json::from_slice(&done.get_output().stdout).unwrap()
}

#[test]
fn the_one_thing_comes_first_with_a_command_to_run() {
    let folder = TempDir::new().unwrap();
    let path = midi(&folder, Habit::Rushing);
    let path = path.to_str().unwrap();
    let page = folder.path().join("take.html");
    let done = openchair(&[
        "review",
        SONG,
        path,
        "--sit-out",
        "chop",
        "--count-in",
        "1",
        "--html",
        page.to_str().unwrap(),
    ]);
    let done = done.success().stderr(is_empty());
    let told = String::from_utf8(done.get_output().stdout.clone()).unwrap();
    assert!(
        told.starts_with("Lantern on the Landing in G, 4/4, 108 beats a minute, without chop: ")
    );
    let next = told.split("Work on this next").nth(1).unwrap();
    assert!(next.trim_start().starts_with("You rush: your beat goes at 110"), "{told}");
    assert!(next.contains(&format!("    openchair play {SONG} --loop ")), "{told}");
    assert!(next.contains(" --speed 90 --sit-out chop\n"), "{told}");
    assert!(next.contains("rest your hands"), "{told}");
    let wide = told.lines().filter(|line| !line.contains("openchair play"));
    assert!(wide.clone().all(|line| line.chars().count() <= 80), "{told}");
    let page = fs::read_to_string(page).unwrap();
    assert!(page.contains("<html") && page.contains("Lantern on the Landing"));
}

/// Bars without a change fit who never changes better than the song does.
#[test]
fn who_never_changes_has_gone_round_nothing() {
    let folder = TempDir::new().unwrap();
    let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
    let mut take = take(&evening, Habit::Steady, 3, COUNT_IN);
    for (number, hit) in take.hits.iter_mut().enumerate() {
        hit.pitches = vec![MidiNote::clamped([55, 59, 62][number % 3])];
    }
    let path = folder.path().join("take.mid");
    fs::write(&path, smf::to_bytes(&notes(&take)).unwrap()).unwrap();
    let told = json(&path, &["--sit-out", "chop", "--no-log"]);
    let about = told["advice"]["about"].as_str().unwrap();
    assert!(["chords-missed", "chord-wrong"].contains(&about), "{}", told["findings"]);
    let words = told["findings"][0]["words"].as_str().unwrap();
    assert!(words.contains(" G where the "), "{words}");
    assert_eq!(told["remarks"].as_array().unwrap().len(), 0, "{}", told["remarks"]);
}

/// Whose verses are as many as the song's passes has played the song, and forgotten its bridge.
#[test]
fn who_forgets_the_bridge_has_gone_round_nothing() {
    let folder = TempDir::new().unwrap();
    let evening = evening("waltz-for-the-last-boat", &[], 100.0);
    let manner = Manner { forgets: Some(("bridge", "verse")), ..Manner::GOOD };
    let path = folder.path().join("take.mid");
    let song = "songs/waltz-for-the-last-boat.toml";
    for seed in [0, 2, 5] {
        let take = take_of(&evening, &manner, seed, 1.607);
        fs::write(&path, smf::to_bytes(&notes(&take)).unwrap()).unwrap();
        let done = openchair(&["review", song, path.to_str().unwrap(), "--json", "--no-log"]);
        let told: Value = serde_json::from_slice(&done.success().get_output().stdout).unwrap();
        let about = told["advice"]["about"].as_str().unwrap();
        assert!(["chords-missed", "chord-wrong", "chords"].contains(&about), "{seed}: {told}");
        let first = told["advice"]["bars"][0].as_u64().unwrap();
        assert!((33..=48).contains(&first), "{seed}: {}", told["advice"]);
    }
}

#[test]
fn json_holds_all_of_it() {
    let folder = TempDir::new().unwrap();
    let path = midi(&folder, Habit::Steady);
    let told = json(&path, &["--sit-out", "chop", "--count-in", "1"]);
    assert_eq!((told["key"].as_str(), told["against"].as_str()), (Some("G"), Some("band")));
    assert!((told["begins"].as_f64().unwrap() - COUNT_IN).abs() < 1e-3);
    assert_eq!(told["advice"]["about"], "steady");
    assert_eq!(told["open"][0], "chop");
    assert_eq!(
        told["hits"].as_array().unwrap().len(),
        told["whole"]["hits"].as_u64().unwrap() as usize
    );
    // The same take, said to be delayed by 40 ms, is as much early.
    let early = json(&path, &["--sit-out", "chop", "--count-in", "1", "--latency", "40"]);
    assert_eq!(early["advice"]["about"], "early");
    let mean = |told: &Value| told["whole"]["timing"]["mean"].as_f64().unwrap();
    assert!((mean(&told) - mean(&early) - 40.0).abs() < 0.5);
    // Played to a loop of the verse, two rounds of it.
    let round = json(&path, &["--loop", "1-8", "--count-in", "1"]);
    assert_eq!(round["passes"][1]["bars"], serde_json::json!([1, 8]));
}

#[test]
fn what_is_recorded_as_sound_is_judged_alike() {
    for (habit, about) in
        [(Habit::Steady, "steady"), (Habit::Dragging, "dragging"), (Habit::Uneven, "uneven")]
    {
        let folder = TempDir::new().unwrap();
        let told = json(&wav(&folder, habit), &["--sit-out", "chop"]);
        assert_eq!(told["source"], "sound");
        assert_eq!(told["advice"]["about"], about, "{}", told["findings"]);
        assert!((told["begins"].as_f64().unwrap() - COUNT_IN).abs() < 0.2, "{}", told["begins"]);
    }
}

#[test]
fn takes_that_are_none_are_told_why() {
    let folder = TempDir::new().unwrap();
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let wav = |samples: &[i16]| {
        let data: Vec<u8> = samples.iter().flat_map(|sample| sample.to_le_bytes()).collect();
        let size = data.len() as u32;
        let mut out = b"RIFF".to_vec();
        out.extend((36 + size).to_le_bytes());
        out.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
        out.extend(48_000_u32.to_le_bytes());
        out.extend(96_000_u32.to_le_bytes());
        out.extend(b"\x02\0\x10\0data");
        out.extend(size.to_le_bytes());
        [out, data].concat()
    };
    let text = write("notes.txt", b"rolls went well today");
    let cut = write("cut.mid", b"MThd\0\0\0\x06\0\x01");
    let silent = write("silent.wav", &wav(&[0; 96_000]));
    let short = write("short.wav", &wav(&[900; 2_000]));
    let mut few = played(Habit::Steady);
    few.hits.truncate(5);
    let few = write("few.mid", &smf::to_bytes(&notes(&few)).unwrap());
    let folder_name = folder.path().to_str().unwrap();
    for (path, said) in [
        (text.as_str(), "save or export the take as .wav"),
        (&cut, "the MIDI file is damaged"),
        (&short, "the take lasts 0.04 seconds"),
        (&few, "too short to review: it has 5 strokes"),
        (folder_name, "is a folder; name the take in it"),
        ("no/such/take.wav", "there is no file no/such/take.wav"),
    ] {
        openchair(&["review", SONG, path]).code(1).stdout(is_empty()).stderr(contains(said));
    }
    openchair(&["review", SONG, &silent, "--no-log"])
        .success()
        .stdout(contains("You are not heard"))
        .stderr(contains("the take is silent"));
    let take = midi(&folder, Habit::Busy);
    let take = take.to_str().unwrap();
    for (option, value, told) in
        [("--speed", "75", "played at 100 percent"), ("--key", "A", "at 100 percent, in G")]
    {
        openchair(&["review", SONG, take, option, value, "--no-log"])
            .success()
            .stdout(contains(told));
    }
    openchair(&["review", SONG, take, "--latency", "20"]).code(2).stderr(contains("--count-in"));
    openchair(&["review", SONG, take, "--html", take]).code(2).stderr(contains("another name"));
    openchair(&["review", SONG, take, "--loop", "900"]).code(2).stderr(contains("no bar 900"));
}

#[test]
fn a_clipped_take_is_told_and_reviewed() {
    let folder = TempDir::new().unwrap();
    let path = wav(&folder, Habit::Steady);
    let mut bytes = fs::read(&path).unwrap();
    for sample in bytes[44..].chunks_exact_mut(2) {
        let loud = i32::from(i16::from_le_bytes([sample[0], sample[1]])) * 24;
        let cut = loud.clamp(i32::from(i16::MIN), i32::from(i16::MAX)) as i16;
        sample.copy_from_slice(&cut.to_le_bytes());
    }
    fs::write(&path, bytes).unwrap();
    openchair(&["review", SONG, path.to_str().unwrap(), "--sit-out", "chop"])
        .success()
        .stderr(contains("is clipped").and(contains("turned down")))
        .stdout(contains("Work on this next"));
}
