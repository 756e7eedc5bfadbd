//! The program itself with its built-in sound, through a private PulseAudio: its server killed and
//! started again, a stop, and the sound beside a JACK port. Skipped where PulseAudio or JACK is missing.

use std::fs;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::common::likeness::lag;
use crate::common::name::name_of;
use crate::common::pulse::{Private, begin};
use crate::common::skip::skipped;
use crate::common::sound::RATE;
use crate::playing::jack::{Listener, is_inside, with_server};
use crate::playing::program::{Exported, Player, median, song};

/// A bass alone, slow: a note at a time.
const BASS: [&str; 8] = ["--band", "bass", "--count-in", "0", "--seed", "5", "--speed", "200"];

/// How many of its notes are compared.
const NOTES: usize = 24;

fn play(private: &Private, more: &[&str]) -> Player {
    let mut command = private.command(env!("CARGO_BIN_EXE_openchair"));
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
    command.args(["play", &song("one-plank-short")]).args(BASS).args(more);
    Player::start(&mut command)
}

fn loudest(sound: &[f32]) -> f32 {
    sound.iter().fold(0.0, |top, x| top.max(x.abs()))
}

#[test]
fn a_sound_server_that_is_started_again_is_taken_up_again() {
    let test = name_of(a_sound_server_that_is_started_again_is_taken_up_again);
    let private = Private::beside_others(true);
    let Some(server) = private.server() else {
        return skipped(test, "PulseAudio is not installed or does not start");
    };
    let Some(recorder) = private.recorder("before.raw") else {
        return skipped(test, "PulseAudio's recorder is not installed");
    };
    let mut player = play(&private, &[]);
    player.says("playing to the sound device");
    recorder.until_sound(RATE as usize / 2);
    let begun = Instant::now();
    drop(server);
    _ = fs::remove_file(private.socket());
    player.says("has gone");
    let told = begun.elapsed();
    // Long enough for a try that finds no server.
    sleep(Duration::from_millis(700));
    let _server = private.server().unwrap();
    let begun = Instant::now();
    player.says("is back");
    println!("measured: told after {told:?}, back {:?} after its start", begun.elapsed());
    let recorder = private.recorder("after.raw").unwrap();
    let goes_on = recorder.until_sound(RATE as usize / 2);
    player.stops_at("INT");
    // The first says what will be when it is back.
    assert_eq!((player.said("has gone"), player.said("is back")), (1, 2), "{:?}", player.told);
    assert!(loudest(&goes_on) > 0.02, "the music goes on");
}

#[test]
fn a_stop_fades_and_ends_soon() {
    let test = name_of(a_stop_fades_and_ends_soon);
    let private = Private::new(true);
    let Some(_server) = private.server() else {
        return skipped(test, "PulseAudio is not installed or does not start");
    };
    let Some(recorder) = private.recorder("heard.raw") else {
        return skipped(test, "PulseAudio's recorder is not installed");
    };
    let mut player = play(&private, &[]);
    player.says("playing to the sound device");
    recorder.until_sound(RATE as usize / 2);
    let begun = Instant::now();
    player.stops_at("INT");
    let took = begun.elapsed();
    let heard = recorder.until_silence();
    assert!(took < Duration::from_secs(4), "{took:?}");
    assert!(loudest(&heard) > 0.02);
    // Silent by its end, and no step to there that would click.
    let last = heard.iter().rposition(|x| x.abs() > 1e-3).unwrap();
    assert!(heard.len() - last > RATE as usize / 5, "it fell silent before it ended");
    let step = heard[last - 4_800..].windows(2).map(|two| (two[1] - two[0]).abs());
    let step = step.fold(0.0_f32, f32::max);
    println!("measured: a stop takes {took:?}; the largest step of its last tenth {step}");
    assert!(step < 0.05, "it clicks: {step}");
}

#[test]
fn port_and_sound_stay_together() {
    let test = name_of(port_and_sound_stay_together);
    if !is_inside(test) {
        return with_server(test, 128);
    }
    let private = Private::new(true);
    let at = |name: &str| private.folder.path().join(name);
    let Some(_server) = private.server() else {
        return skipped(test, "PulseAudio is not installed or does not start");
    };
    let file = Exported::of(&song("one-plank-short"), &BASS);
    let made = Command::new(env!("CARGO_BIN_EXE_openchair"))
        .args(["export", &song("one-plank-short"), "-o"])
        .arg(at("made.wav"))
        .args(BASS)
        .output()
        .unwrap();
    assert!(made.status.success());
    let mut reader = hound::WavReader::open(at("made.wav")).unwrap();
    let spec = reader.spec();
    assert_eq!((spec.sample_rate, spec.channels), (RATE, 2));
    let full = (1_i64 << (spec.bits_per_sample - 1)) as f32;
    let samples: Vec<f32> = reader.samples::<i32>().map(|it| it.unwrap() as f32 / full).collect();
    let made: Vec<f32> = samples.chunks_exact(2).map(|both| (both[0] + both[1]) / 2.0).collect();

    let mut listener = Listener::new("listener");
    let Some(recorder) = private.recorder("heard.raw") else {
        return skipped(test, "PulseAudio's recorder is not installed");
    };
    recorder.settle();
    let mut player = play(&private, &["--port", "listener", "--sound"]);
    let heard_enough = |it: &mut Listener| {
        it.listen().iter().filter(|it| it.bytes[0] >> 4 == 9).count() >= NOTES + 2
    };
    let enough = listener.until(Duration::from_secs(30), heard_enough);
    player.stops_at("INT");
    assert!(enough, "{:?}", player.told);
    let heard = recorder.until_silence();
    assert!(listener.sounding().is_empty());
    let port: Vec<(i64, [u8; 3])> = listener
        .listen()
        .iter()
        .filter(|it| it.bytes[0] >> 4 == 9)
        .map(|it| (i64::from(it.frame), it.bytes))
        .collect();
    let micros = u64::from(file.micros);
    let written: Vec<(i64, [u8; 3])> = file
        .notes
        .iter()
        .filter(|(_, bytes)| bytes[0] >> 4 == 9)
        .map(|&(tick, bytes)| ((tick * micros * u64::from(RATE) / 960_000_000) as i64, bytes))
        .collect();

    // Where the first note lies in the recording: coarsely by where sound begins.
    let mut near = begin(&heard).unwrap() as i64 - begin(&made).unwrap() as i64;
    let length = RATE as usize / 6;
    let mut apart = Vec::new();
    for (note, (wrote, sent)) in written.iter().zip(&port).take(NOTES).enumerate() {
        assert_eq!(wrote.1, sent.1, "the port plays the same notes");
        let from = usize::try_from(wrote.0).unwrap();
        let around = if note == 0 { 1_000 } else { 480 };
        let (found, alike) = lag(&heard, &made, near, around, from, length);
        assert!(alike > 0.8, "the sound plays the same notes: {note} is alike by {alike}");
        near = found;
        // How much later than in the file it sounds, less how much later it was sent.
        apart.push((found - (sent.0 - port[0].0 - (wrote.0 - written[0].0))) * 1_000_000 / 48_000);
    }
    let middle = median(&apart);
    let mut off: Vec<i64> = apart.iter().map(|it| (it - middle).abs()).collect();
    off.sort_unstable();
    println!(
        "measured: {} notes: sound and port lie apart by a constant to {} µs (median), {} µs (nine in \
         ten), {} µs (most); {:?}",
        off.len(),
        off[off.len() / 2],
        off[off.len() * 9 / 10],
        off[off.len() - 1],
        player.told
    );
    // A loaded machine's sound server now and then skips a beat, and what comes after it is moved.
    assert!(off[off.len() / 2] < 3_000, "{apart:?}");
}
