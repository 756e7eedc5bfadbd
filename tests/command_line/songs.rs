//! Songs found by name, from anywhere.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::contains;
use tempfile::TempDir;

/// The program where no song is, for a user whose data are in that folder.
fn openchair(elsewhere: &TempDir, data: &TempDir) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_openchair"));
    // Each system has its own word for where a user's data are.
    for variable in ["XDG_DATA_HOME", "APPDATA"] {
        command.env(variable, data.path());
    }
    command.current_dir(elsewhere.path());
    command
}

fn shipped(name: &str) -> String {
    format!("{}/songs/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

fn exported(command: &mut Command, song: &str) -> Vec<u8> {
    let done = command.args(["export", song, "-o", "-", "--format", "mid"]).assert().success();
    done.get_output().stdout.clone()
}

#[test]
fn a_song_that_comes_along_is_found_by_name_or_title() {
    let (elsewhere, data) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let by_path = exported(&mut openchair(&elsewhere, &data), &shipped("moths-at-tobins-lamp"));
    for name in ["moths-at-tobins-lamp", "Moths at Tobin's Lamp"] {
        assert_eq!(exported(&mut openchair(&elsewhere, &data), name), by_path, "{name}");
    }
    openchair(&elsewhere, &data).args(["tab", "moths-at-tobins-lamp"]).assert().success();
    openchair(&elsewhere, &data).args(["coverage", "moths-at-tobins-lamp"]).assert().success();
    openchair(&elsewhere, &data)
        .args(["drill", "moths-at-tobins-lamp", "--list"])
        .assert()
        .success();
}

#[test]
fn a_misspelt_name_says_which_was_meant_and_a_file_stays_a_file() {
    let (elsewhere, data) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    openchair(&elsewhere, &data)
        .args(["coverage", "one-plank-shorter"])
        .assert()
        .code(1)
        .stderr(contains("did you mean `one-plank-short`?"));
    openchair(&elsewhere, &data)
        .args(["coverage", "one-plank-short.toml"])
        .assert()
        .code(1)
        .stderr(contains("there is no file one-plank-short.toml"));
}

#[cfg(target_os = "linux")]
#[test]
fn a_song_of_ones_own_is_listed_and_comes_first() {
    let (elsewhere, data) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let own = data.path().join("openchair/songs");
    fs::create_dir_all(&own).unwrap();
    let text = fs::read_to_string(shipped("one-plank-short")).unwrap();
    let mine = text.replacen("\"C\"", "\"D\"", 1);
    assert_ne!(mine, text);
    fs::write(own.join("one-plank-short.toml"), &mine).unwrap();
    fs::write(own.join("half-done.toml"), "title = \"Half Done\"\n").unwrap();
    let listed = openchair(&elsewhere, &data).args(["songs", "--json"]).assert().success();
    let listed = String::from_utf8(listed.get_output().stdout.clone()).unwrap();
    let rows: serde_json::Value = serde_json::from_str(&listed).unwrap();
    let first: Vec<(&str, bool)> = rows
        .as_array()
        .unwrap()
        .iter()
        .take(3)
        .map(|row| (row["name"].as_str().unwrap(), row["wrong"].as_bool().unwrap()))
        .collect();
    let shipped_first = ("boot-for-a-bailer", false);
    assert_eq!(first, [("half-done", true), ("one-plank-short", false), shipped_first]);
    assert_eq!(rows[1]["key"], "D");
    assert_eq!(Path::new(rows[1]["file"].as_str().unwrap()), own.join("one-plank-short.toml"));
    let by_name = exported(&mut openchair(&elsewhere, &data), "one-plank-short");
    let path = own.join("one-plank-short.toml").display().to_string();
    assert_eq!(by_name, exported(&mut openchair(&elsewhere, &data), &path));
}

#[test]
fn a_lesson_names_songs_too() {
    let (elsewhere, data) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let lesson =
        "title = \"By name\"\n\n[[item]]\nsong = \"lantern-on-the-landing\"\nspeeds = [80]\n";
    fs::write(elsewhere.path().join("week.toml"), lesson).unwrap();
    openchair(&elsewhere, &data)
        .args(["check", "week.toml"])
        .assert()
        .success()
        .stdout("1 file checked, no problems\n");
    fs::write(elsewhere.path().join("week.toml"), lesson.replace("lantern-on", "lantern-in"))
        .unwrap();
    openchair(&elsewhere, &data)
        .args(["check", "week.toml"])
        .assert()
        .code(1)
        .stdout(contains("did you mean `lantern-on-the-landing`?"));
}

#[test]
fn the_list_reads_well() {
    let (elsewhere, data) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let list = openchair(&elsewhere, &data).arg("songs").assert().success();
    let list = String::from_utf8(list.get_output().stdout.clone()).unwrap();
    let (_, shipped) = list.split_once("With openchair\n").unwrap();
    insta::assert_snapshot!(shipped);
    assert!(contains("none yet").eval(&list), "{list}");
}
