//! `openchair drill` as typed: the list of a song's changes, and the marks beside them.

use std::fs;
use std::path::PathBuf;

use assert_cmd::assert::Assert;
use predicates::prelude::*;
use predicates::str::{contains, is_empty};
use serde_json::Value;
use tempfile::TempDir;

const SONG: &str = "songs/lantern-on-the-landing.toml";

/// Runs the program for a user whose home is `home`.
fn openchair(home: &TempDir, args: &[&str]) -> Assert {
    assert_cmd::Command::new(env!("CARGO_BIN_EXE_openchair"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("HOME", home.path())
        .env("APPDATA", home.path())
        .env("XDG_DATA_HOME", home.path().join("data"))
        .args(args)
        .assert()
}

fn rows(home: &TempDir, args: &[&str]) -> Vec<Value> {
    let args = [&["drill", SONG, "--list", "--json"], args].concat();
    let done = openchair(home, &args).success().stderr(is_empty());
    serde_json::from_slice(&done.get_output().stdout).unwrap()
}

/// The folder that the marks are in on this system.
fn marks(home: &TempDir) -> PathBuf {
    let data = match std::env::consts::OS {
        "windows" => home.path().to_owned(),
        "macos" => home.path().join("Library/Application Support"),
        _ => home.path().join("data"),
    };
    data.join("openchair/marks")
}

#[test]
fn the_list_tells_changes_in_the_key_played() {
    let home = TempDir::new().unwrap();
    let in_g = rows(&home, &[]);
    let counts: Vec<u64> = in_g.iter().map(|row| row["count"].as_u64().unwrap()).collect();
    assert!(counts.len() > 2 && counts.is_sorted_by(|a, b| a >= b), "{counts:?}");
    assert!(in_g.iter().all(|row| row["learnt"].is_null() && row["practised"].is_null()));
    let in_a = rows(&home, &["--key", "A"]);
    let again: Vec<u64> = in_a.iter().map(|row| row["count"].as_u64().unwrap()).collect();
    assert_eq!(again, counts);
    let first = |rows: &[Value]| format!("{} {}", rows[0]["from"], rows[0]["to"]);
    assert_eq!((first(&in_g), first(&in_a)), (r#""D" "G""#.into(), r#""E" "A""#.into()));
    assert!(!marks(&home).exists(), "looking writes nothing");
    openchair(&home, &["drill", SONG, "--list"])
        .success()
        .stdout(contains("change").and(contains("times")).and(contains("never")));
}

#[test]
fn one_change_can_be_chosen() {
    let home = TempDir::new().unwrap();
    let all = rows(&home, &[]);
    let (from, to) = (all[1]["from"].as_str().unwrap(), all[1]["to"].as_str().unwrap());
    let one = rows(&home, &["--change", &format!("{from}:{to}")]);
    assert_eq!(one, all[1..2]);
    // In another key it is still called as the song's file has it.
    let moved = rows(&home, &["--change", &format!("{from}:{to}"), "--key", "Eb"]);
    assert_eq!((moved.len(), &moved[0]["count"]), (1, &all[1]["count"]));
}

#[test]
fn what_cannot_be_practised_is_told() {
    let home = TempDir::new().unwrap();
    for (args, said) in [
        (&["--change", "G"][..], "as in G:C"),
        (&["--change", "G:Q"], "no chord starts with `Q`"),
        (&["--change", "Bdim:F#"], "it has "),
        (&["--bars", "0"], "from 1 to 16"),
        (&["--bars", "-1"], "from 1 to 16"),
        (&["--ramp", "60"], "60:100:4"),
        (&["--ramp", "60:5000:4"], "`5000` is no practice speed"),
        (&["--speed", "70"], "--ramp 70:100"),
        (&["--sit-out", "guitar@verse"], "--sit-out guitar"),
    ] {
        let args = [&["drill", SONG, "--list"], args].concat();
        openchair(&home, &args).code(2).stdout(is_empty()).stderr(contains(said));
    }
    openchair(&home, &["drill", SONG, "--json"]).code(2).stderr(contains("--list"));
}

#[test]
fn marks_are_shown_and_bad_ones_set_aside() {
    let home = TempDir::new().unwrap();
    let all = rows(&home, &[]);
    let title = "Lantern on the Landing";
    fs::create_dir_all(marks(&home)).unwrap();
    let file = marks(&home).join(format!("{}.json", openchair::practice::file_name(title)));
    let text = serde_json::json!({
        "version": 1,
        "title": title,
        "changes": [{ "from": all[0]["from"], "to": all[0]["to"], "learnt": 92, "reached": 96,
                      "practised": "2024-03-09" }],
    });
    fs::write(&file, text.to_string()).unwrap();
    let row = &rows(&home, &[])[0];
    assert_eq!((&row["learnt"], &row["reached"]), (&92.0.into(), &96.0.into()));
    assert_eq!(row["practised"], "2024-03-09");
    assert_eq!(fs::read_to_string(&file).unwrap(), text.to_string(), "looking writes nothing");

    fs::write(&file, "{\"version\": 3}").unwrap();
    openchair(&home, &["drill", SONG, "--list"])
        .success()
        .stdout(contains("never"))
        .stderr(contains("later openchair").and(contains("set-aside-1")));
    assert!(!file.exists());
    openchair(&home, &["drill", SONG, "--list"]).success().stderr(is_empty());
}
