//! The program itself, playing to a real JACK server: what comes through the port is what the exported
//! file holds.

use crate::common::name::name_of;
use crate::playing::jack::{Listener, is_inside, with_server};
use crate::playing::program::{Exported, openchair};

/// All that a band can do, in few bars.
const SONG: &str = r#"
title = "Everybody In"
key = "A"
meter = "4/4"
tempo = 180
style = "drive"
band = ["bass", "chop", "guitar", "banjo", "fiddle"]
kickoff = "shuffles"
ending = "tag"
form = ["verse: voice", "verse: banjo", "chorus: voice"]
[section.verse]
chords = """
| A | D | A | E |
| A | D | A / E / | A |
"""
[section.chorus]
chords = """
| D | A | D | E |
| D | A | F#m / E / | A |
"""
"#;

#[test]
fn the_port_gets_what_the_file_holds() {
    let test = name_of(the_port_gets_what_the_file_holds);
    if !is_inside(test) {
        return with_server(test, 256);
    }
    // Half a minute of everybody, played four times as fast unless asked otherwise.
    let speed = std::env::var("OPENCHAIR_TEST_SPEED").unwrap_or("400".to_owned());
    let options = ["--speed", &speed, "--count-in", "1", "--seed", "5"];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("everybody-in.toml");
    std::fs::write(&path, SONG).unwrap();
    let song = path.to_str().unwrap().to_owned();
    let Exported { notes: mut file, micros, .. } = Exported::of(&song, &options);
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
    let start = file.iter().map(|&(tick, _)| frame_of(tick)).min().unwrap();
    let mut wanted = file.iter();
    let mut missed = 0;
    for &(frame, heard) in &heard {
        // Whatever came stands in the file, note by note in the file's order.
        let Some(&(tick, _)) = wanted.by_ref().inspect(|_| missed += 1).find(|it| it.1 == heard)
        else {
            panic!("{heard:?} is not in the file there; {told}")
        };
        missed -= 1;
        let off = i64::from(frame.wrapping_sub(first)) - (frame_of(tick) - start) as i64;
        // Rounded twice, from ticks and from the first message.
        assert!(dropped_out || off.abs() <= 1, "{off} frames off at tick {tick}");
    }
    missed += wanted.count();
    println!(
        "measured: {} of {} messages as in the file; dropouts: {dropped_out}",
        heard.len(),
        file.len()
    );
    // A server that is held up lets a client miss a period, and what came in it: here, the listener.
    assert!(missed == 0 || dropped_out && missed * 20 <= file.len(), "{missed} missed; {told}");
    assert!(missed > 0 || listener.sounding().is_empty());
}
