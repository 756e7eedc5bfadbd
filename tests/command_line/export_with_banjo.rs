//! `export --with banjo`: the part for the open chair beside the band, which plays as it does without.

use std::collections::BTreeSet;
use std::process::Command;

use crate::common::midi_file::MidiFile;

/// What the program writes, and how it ended.
fn exported(options: &[&str]) -> (Option<i32>, Vec<u8>, String) {
    let song = concat!(env!("CARGO_MANIFEST_DIR"), "/songs/lantern-on-the-landing.toml");
    let done = Command::new(env!("CARGO_BIN_EXE_openchair"))
        .args(["export", song, "-o", "-", "--format", "mid"])
        .args(options)
        .output()
        .unwrap();
    (done.status.code(), done.stdout, String::from_utf8_lossy(&done.stderr).into_owned())
}

#[test]
fn an_export_has_it_beside_a_band_that_plays_as_before() {
    let file = |options: &[&str]| {
        let (status, bytes, said) = exported(options);
        assert_eq!(status, Some(0), "{said}");
        MidiFile::read(&bytes).unwrap()
    };
    for line_up in ["bass,chop,guitar", "guitar,fiddle,lead"] {
        let without = file(&["--band", line_up, "--count-in", "1"]);
        let mut parts = BTreeSet::new();
        for level in ["plain", "sixths", "lead-ins", "full"] {
            let options =
                ["--band", line_up, "--count-in", "1", "--with", "banjo", "--level", level];
            let with = file(&options);
            for track in &without.tracks {
                let same = with.tracks.iter().any(|other| other.bytes == track.bytes);
                assert!(same, "{level}: {:?} plays otherwise", track.name());
            }
            assert_eq!(with.tracks.len(), without.tracks.len() + 1);
            let banjo = with.track("banjo").unwrap();
            // General MIDI 106, banjo, on a channel of its own.
            assert_eq!(banjo.channels().len(), 1);
            assert!(without.tracks.iter().all(|other| other.channels() != banjo.channels()));
            let notes = banjo.notes().unwrap();
            assert!(notes.len() > 100 && notes.iter().all(|note| note.end <= banjo.end()));
            let pitches: Vec<(i64, u8)> = notes.iter().map(|note| (note.start, note.key)).collect();
            assert!(parts.insert(pitches), "{level} is like another");
        }
        let full = file(&["--band", line_up, "--count-in", "1", "--with", "banjo"]);
        let notes = full.track("banjo").unwrap().notes().unwrap();
        let pitches: Vec<(i64, u8)> = notes.iter().map(|note| (note.start, note.key)).collect();
        assert!(parts.contains(&pitches), "full is what is meant");
    }
}

#[test]
fn a_chair_that_is_taken_is_not_filled() {
    let (status, _, said) = exported(&["--band", "bass,banjo", "--with", "banjo"]);
    assert_eq!(status, Some(2), "{said}");
    assert!(said.contains("--with banjo: the band has a banjo already"), "{said}");
    let open = ["--band", "bass,banjo", "--sit-out", "banjo", "--with", "banjo"];
    assert_eq!(exported(&open).0, Some(0));
    let (status, _, said) = exported(&["--level", "full"]);
    assert!(status == Some(2) && said.contains("--with"), "{said}");
    let (status, _, said) = exported(&["--with", "banjo", "--level", "ful"]);
    assert!(status == Some(2) && said.contains("did you mean `full`?"), "{said}");
}
