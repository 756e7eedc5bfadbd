//! Recording a player: what is asked for wrongly is told before anything sounds; a recording is reviewed as it says
//! itself that it was played.

use std::path::{Path, PathBuf};

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::{Role, RoleSet, read_song};
use openchair::sink::smf::recorded_to_bytes;
use openchair::take::{HeardBar, Played, Recorded, RecordedBar, SongBar};
use openchair::text::{Problems, Source};
use openchair::theory::Key;
use openchair::time::Ticks;

const SONG: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/songs/lantern-on-the-landing.toml");

fn says(args: &[&str]) -> (i32, String, String) {
    let mut command = assert_cmd::Command::new(env!("CARGO_BIN_EXE_openchair"));
    let output = command.args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

#[test]
fn what_cannot_be_is_told_before_anything_sounds() {
    let folder = tempfile::tempdir().unwrap();
    let in_folder = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (take, wav, nowhere) =
        (in_folder("take.mid"), in_folder("take.wav"), in_folder("nowhere/take.mid"));
    for (options, status, said) in [
        (vec!["--record", &take], 2, "add --listen NAME or --listen-mic"),
        (vec!["--listen-mic", "--record", &take], 2, "must end in .wav"),
        (vec!["--listen", "banjo", "--listen-mic", "desk"], 2, "cannot be used with"),
        (vec!["--latency", "30"], 2, "--listen-mic"),
        (vec!["--listen-mic", "--latency", "3000"], 2, "write milliseconds from -2000 to 2000"),
        (vec!["--listen", "banjo", "--record", &wav], 2, "must end in .mid"),
        (vec!["--listen", "banjo", "--record", &nowhere], 1, "there is no such folder"),
    ] {
        let (code, out, err) = says(&[&["play", SONG], options.as_slice()].concat());
        assert_eq!((code, out.as_str()), (status, ""), "{err}");
        assert!(err.contains(said), "{err}");
    }
    let song = in_folder("song.mid");
    std::fs::copy(SONG, &song).unwrap();
    let (code, _, err) = says(&["play", &song, "--listen", "banjo", "--record", &song]);
    assert!(code == 2 && err.contains("the song itself"), "{err}");
}

fn song(plan: &Plan) -> Arrangement {
    let source = Source::new(SONG, std::fs::read_to_string(SONG).unwrap()).unwrap();
    let (song, _) = read_song(&source, &mut Problems::new()).unwrap();
    arrange(&song, plan).unwrap()
}

/// A recording of a loop of bars 5 to 8, six times, without the chop: the chords' roots and fifths on the
/// backbeats, in another key and slower than written.
fn recording(folder: &Path) -> PathBuf {
    let key = Key::parse("A").unwrap();
    let plan = Plan { key: Some(key), speed: 80.0, ..Plan::default() };
    let song = song(&plan).excerpt(5..=8, 6).unwrap();
    let mut recorded = Recorded {
        title: song.title.clone(),
        bars: Vec::new(),
        tempos: vec![(Ticks::ZERO, song.tempo)],
        played: Vec::new(),
        hits: Vec::new(),
    };
    for (index, bar) in song.bars.iter().enumerate() {
        let heard = SongBar {
            number: bar.number,
            key,
            silent: RoleSet::EMPTY.with(Role::Chop),
            goes_on: index > 0,
            whole: true,
            lost_time: matches!(index, 5 | 6),
        };
        let (start, meter) = (bar.start, bar.meter);
        recorded.bars.push(RecordedBar { start, meter, heard: HeardBar::Song(heard), pass: None });
        let place = song.spans.partition_point(|span| span.start <= bar.start) - 1;
        let chord = song.chord(song.spans[place].chord.unwrap()).unwrap();
        let root = 60 + chord.root.pitch_class();
        for beat in [1, 3] {
            let at = bar.start + Ticks::QUARTER * beat;
            for pitch in [root, root + 7] {
                recorded.played.push((at, Played::from_bytes(&[0x90, pitch, 80]).unwrap()));
            }
        }
    }
    recorded.end_every_note();
    let path = folder.join("take.mid");
    std::fs::write(&path, recorded_to_bytes(&recorded).unwrap()).unwrap();
    path
}

#[test]
fn a_recording_is_reviewed_as_it_was_played() {
    let folder = tempfile::tempdir().unwrap();
    let take = recording(folder.path());
    let take = take.to_str().unwrap();
    let (code, out, err) = says(&["review", SONG, take, "--json"]);
    assert_eq!((code, err.as_str()), (0, ""));
    let told: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!((&told["key"], &told["against"]), (&"A".into(), &"band".into()));
    assert!((told["speed"].as_f64().unwrap() - 80.0).abs() < 0.01, "{}", told["speed"]);
    assert_eq!(told["open"][0], "chop");
    assert_eq!(told["bars"].as_array().unwrap().len(), 24, "six rounds of four bars");
    assert_eq!(told["whole"]["hits"], 48);
    assert_eq!(told["whole"]["tones"]["outside"], 0);
    // The second round's second bar and its third.
    assert_eq!(
        told["remarks"][0],
        "The computer lost time in bars 6 and 7, and the band stumbled: don't trust what is said of them."
    );
    let command = told["advice"]["command"].as_str().unwrap();
    assert!(command.contains("--key A") && command.contains("--sit-out chop"), "{command}");

    for (option, value) in [("--key", "G"), ("--speed", "60")] {
        let (code, _, err) = says(&["review", SONG, take, option, value]);
        assert!(code == 2 && err.contains(&format!("leave {option} out")), "{err}");
    }
    let (code, ..) = says(&["review", SONG, take, "--key", "A", "--speed", "80"]);
    assert_eq!(code, 0);
    let other = SONG.replace("lantern-on-the-landing", "one-plank-short");
    let (code, _, err) = says(&["review", &other, take]);
    assert!(code == 1 && err.contains("beside Lantern on the Landing"), "{err}");
}

/// A recording that begins at a bar far into the song lies where it says: a player who stays on one chord there is not told
/// to be bars early, because some other place has more of that chord.
#[test]
fn a_recording_far_into_the_song_lies_where_it_was_played() {
    let folder = tempfile::tempdir().unwrap();
    let song = song(&Plan::default());
    let root = 55;
    for first in [9, 37, 1_000, 100_000] {
        let mut recorded = Recorded {
            title: song.title.clone(),
            bars: Vec::new(),
            tempos: vec![(Ticks::ZERO, song.tempo)],
            played: Vec::new(),
            hits: Vec::new(),
        };
        for index in 0..20 {
            let start = Ticks::QUARTER * (4 * index as i64);
            let heard = SongBar {
                number: first + index,
                key: song.key,
                silent: RoleSet::EMPTY,
                goes_on: index > 0,
                whole: true,
                lost_time: false,
            };
            let (meter, heard) = (song.meter.into(), HeardBar::Song(heard));
            recorded.bars.push(RecordedBar { start, meter, heard, pass: None });
            for eighth in 0..8 {
                let at = start + Ticks::EIGHTH * eighth;
                recorded.played.push((at, Played::from_bytes(&[0x90, root, 90]).unwrap()));
            }
        }
        recorded.end_every_note();
        let path = folder.path().join("take.mid");
        std::fs::write(&path, recorded_to_bytes(&recorded).unwrap()).unwrap();
        let (code, out, err) =
            says(&["review", SONG, path.to_str().unwrap(), "--json", "--no-log"]);
        assert_eq!((code, err.as_str()), (0, ""), "{first}");
        let told: serde_json::Value = serde_json::from_str(&out).unwrap();
        let mean = told["whole"]["timing"]["mean"].as_f64().unwrap();
        // The song swings, and these eighths are even.
        assert!(mean.abs() < 60.0, "from bar {first}: {mean} ms");
        assert_eq!(told["bars"][0]["number"], first, "from bar {first}");
    }
}
