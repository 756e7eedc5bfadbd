//! `openchair tab` as typed: what it writes where, and what it says to what cannot be.

use std::fs;

use assert_cmd::assert::Assert;
use predicates::prelude::*;
use predicates::str::{contains, is_empty, starts_with};
use tempfile::TempDir;

use crate::common::midi_file::MidiFile;

const SONG: &str = "songs/lantern-on-the-landing.toml";

fn tab(options: &[&str]) -> Assert {
    assert_cmd::Command::new(env!("CARGO_BIN_EXE_openchair"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args([&["tab", SONG], options].concat())
        .assert()
}

fn written(options: &[&str]) -> Vec<u8> {
    tab(options).success().get_output().stdout.clone()
}

#[test]
fn the_text_goes_to_standard_output_and_to_a_file_alike() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("lantern.txt");
    tab(&["-o", path.to_str().unwrap()]).success().stdout(is_empty()).stderr(is_empty());
    let text = fs::read_to_string(&path).unwrap();
    assert_eq!(written(&[]), text.as_bytes(), "80 columns where there is no terminal");
    assert_eq!(written(&["-o", "-", "--format", "text", "--width", "80"]), text.as_bytes());
    assert!(text.starts_with("Lantern on the Landing\n"));
    assert!(text.contains("\nverse: guitar — guitar out: "));
    assert!(text.contains("drones: the fourth of D"));
    let fits = String::from_utf8(written(&["--drone", "fits"])).unwrap();
    assert!(fits.contains("clashes: the fourth of D"));
    assert!(text.contains("with the band"), "the stops of the chorus");
    assert_ne!(written(&["--level", "plain"]), text.as_bytes());
    assert_ne!(written(&["--sit-out", "chop"]), text.as_bytes());
}

#[test]
fn every_kind_of_file() {
    let folder = TempDir::new().unwrap();
    for (name, options, begins) in [
        (
            "a.musicxml",
            &[][..],
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!DOCTYPE score-partwise ",
        ),
        ("a.xml", &["--only", "verse"], "<?xml "),
        ("a.mid", &[], "MThd"),
        ("a.json", &[], "{\n"),
        ("neck.svg", &["--neck"], "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg "),
        ("neck.txt", &["--neck"], "Lantern on the Landing\nClosed positions"),
        ("b", &["--format", "musicxml"], "<?xml "),
    ] {
        let path = folder.path().join(name);
        tab(&[&["-o", path.to_str().unwrap()], options].concat()).success().stdout(is_empty());
        let bytes = fs::read(&path).unwrap();
        assert!(bytes.starts_with(begins.as_bytes()), "{name}");
    }
    tab(&["--json"]).success().stdout(starts_with("{\n"));
}

#[test]
fn the_midi_file_has_the_banjo_alone() {
    let whole = written(&["--format", "mid"]);
    let file = MidiFile::read(&whole).unwrap();
    let names: Vec<Option<String>> = file.tracks[1..].iter().map(|track| track.name()).collect();
    assert_eq!(names, [Some("banjo".to_owned())]);
    let some = MidiFile::read(&written(&["--format", "mid", "--only", "5-8"])).unwrap();
    let (of_some, of_whole) = (some.tracks[1].notes().unwrap(), file.tracks[1].notes().unwrap());
    // Bars 5 to 8 in 4/4 at 960 to the quarter; feel moves a note by much less than an eighth.
    let (from, bars) = (4 * 3840, 4 * 3840);
    let here = of_whole.iter().filter(|note| (from - 240..from + bars - 240).contains(&note.start));
    let keys = here.map(|note| note.key).collect::<Vec<_>>();
    assert_eq!(of_some.iter().map(|note| note.key).collect::<Vec<_>>(), keys);
    assert!(of_some.iter().all(|note| note.start < note.end && note.end <= bars));
}

#[test]
fn what_cannot_be_is_said() {
    let folder = TempDir::new().unwrap();
    for (options, name, said) in [
        (&[][..], "a.svg", "add --neck"),
        (&["--neck"], "a.musicxml", "leave --neck out"),
        (&["--neck"], "a.mid", "leave --neck out"),
        (&[], "a.mxl", "name it .musicxml"),
        (&[], "a.pdf", "must end in .txt, .musicxml, .mid"),
        (&["--format", "mid"], "a.txt", "leave one of them out"),
        (&["--json"], "a.txt", "leave one of them out"),
        (&["--only", "bridge"], "a.txt", "--only: there is no section `bridge`"),
        (&["--only", "900"], "a.txt", "--only: there is no bar 900"),
        (&["--width", "12"], "a.txt", "from 40 to 400"),
        (&["--level", "fulll"], "a.txt", "did you mean `full`?"),
    ] {
        let path = folder.path().join(name);
        tab(&[&["-o", path.to_str().unwrap()], options].concat())
            .code(2)
            .stdout(is_empty())
            .stderr(contains(said));
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "nothing is written");
    tab(&["-o", SONG])
        .code(2)
        .stderr(contains("this is the song itself").or(contains("must end in")));
    tab(&["-o", "no/such/folder/a.txt"]).code(1).stderr(contains("no such folder"));
}
