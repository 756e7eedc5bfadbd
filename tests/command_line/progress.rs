//! Takes over days: what is kept of a review, what is not, and how it is shown.

use std::fs;
use std::path::{Path, PathBuf};

use crate::common::player::{Habit, evening, take};
use crate::common::sound;
use crate::common::typed::SONG;
use assert_cmd::assert::Assert;
use openchair::chart::Role;
use openchair::sink::smf;
use predicates::prelude::*;
use predicates::str::contains;
use serde_json::Value;
use tempfile::TempDir;

/// The program of a player who keeps data in this folder.
fn openchair(folder: &TempDir, args: &[&str]) -> Assert {
    assert_cmd::Command::new(env!("CARGO_BIN_EXE_openchair"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("XDG_DATA_HOME", folder.path())
        .env("APPDATA", folder.path())
        .env("HOME", folder.path())
        .args(args)
        .assert()
}

fn recorded(folder: &TempDir, habit: Habit) -> PathBuf {
    let evening = evening("lantern-on-the-landing", &[Role::Chop], 100.0);
    let mut take = take(&evening, habit, 12, 2.2);
    take.hits.retain(|hit| hit.at.seconds() < 75.0);
    let notes = take.hits.iter().flat_map(|hit| {
        let start = (hit.at.seconds() * 1e3).round() as i64;
        hit.pitches.iter().map(move |pitch| sound::note(start, 100, pitch.get(), hit.loud))
    });
    let path = folder.path().join(format!("{habit:?}.mid"));
    fs::write(&path, smf::to_bytes(&sound::solo(Role::Banjo, notes.collect())).unwrap()).unwrap();
    path
}

fn takes(folder: &TempDir, of: &[&str]) -> Vec<Value> {
    let done = openchair(folder, &[&["progress", "--json"], of].concat()).success();
    serde_json::from_slice(&done.get_output().stdout).unwrap()
}

fn kept(folder: &Path) -> Vec<PathBuf> {
    let Ok(files) = fs::read_dir(folder) else { return Vec::new() };
    let paths = files.map(|file| file.unwrap().path());
    paths.flat_map(|path| if path.is_dir() { kept(&path) } else { vec![path] }).collect()
}

/// A student's takes, as the band's page saves them.
#[test]
fn a_teacher_reads_a_students_takes_from_a_file() {
    let (folder, songs) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let steady = recorded(&songs, Habit::Steady);
    let steady = steady.to_str().unwrap();
    openchair(&folder, &["review", SONG, steady, "--sit-out", "chop"]).success();
    let own = kept(folder.path()).into_iter().find(|path| path.ends_with("takes.jsonl")).unwrap();
    let sent = songs.path().join("sent.jsonl");
    fs::copy(own, &sent).unwrap();
    let (teacher, sent) = (TempDir::new().unwrap(), sent.to_str().unwrap().to_owned());
    openchair(&teacher, &["progress", "--takes", &sent])
        .success()
        .stdout(contains("Lantern on the Landing"));
    openchair(&teacher, &["progress"]).success().stdout(contains("No take was reviewed yet"));
    let none = songs.path().join("none.txt");
    fs::write(&none, "shopping list\n").unwrap();
    openchair(&teacher, &["progress", "--takes", none.to_str().unwrap()])
        .code(1)
        .stderr(contains("holds no takes"));
    openchair(&teacher, &["progress", "--takes", "not-there.jsonl"])
        .code(1)
        .stderr(contains("not-there.jsonl"));
}

#[test]
fn a_take_is_kept_once_and_shown_by_its_song() {
    let (folder, songs) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    openchair(&folder, &["progress"]).success().stdout(contains("No take was reviewed yet"));
    let steady = recorded(&songs, Habit::Steady);
    let busy = recorded(&songs, Habit::Rushing);
    let review = |take: &Path, more: &[&str]| {
        let args = [&["review", SONG, take.to_str().unwrap(), "--sit-out", "chop"], more].concat();
        openchair(&folder, &args).success();
    };
    review(&steady, &["--no-log"]);
    assert!(kept(folder.path()).is_empty(), "{:?}", kept(folder.path()));
    review(&steady, &[]);
    review(&steady, &["--json"]);
    review(&busy, &[]);
    let all = takes(&folder, &[]);
    assert_eq!(all.len(), 2, "the same take again is no other: {all:?}");
    assert_eq!((&all[0]["work_on"], &all[1]["work_on"]), (&"steady".into(), &"rushing".into()));
    assert_eq!(
        (&all[0]["song"], &all[0]["without"][0]),
        (&"Lantern on the Landing".into(), &"chop".into())
    );
    // The song by its file, by its name, and by its title.
    for song in [SONG, "lantern-on-the-landing", "Lantern on the Landing"] {
        assert_eq!(takes(&folder, &[song]).len(), 2, "{song}");
    }
    assert!(takes(&folder, &["waltz-for-the-last-boat"]).is_empty());
    openchair(&folder, &["progress", "waltz-for-the-last-boat"])
        .code(1)
        .stderr(contains("no take of Waltz for the Last Boat"));
    openchair(&folder, &["progress"])
        .success()
        .stdout(contains("Lantern on the Landing\n").and(contains("rushing")))
        .stdout(contains("In your last take"));
    // No sound, no notes, and nothing of where the take lies.
    let files = kept(folder.path());
    assert_eq!(files.len(), 1, "{files:?}");
    let text = fs::read_to_string(&files[0]).unwrap();
    assert!(!text.contains(".mid") && text.lines().count() == 2, "{text}");
}

#[test]
fn the_page_is_well_formed_and_a_broken_line_is_told_and_left() {
    let (folder, songs) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let take = recorded(&songs, Habit::Steady);
    openchair(&folder, &["review", SONG, take.to_str().unwrap(), "--sit-out", "chop"]).success();
    let file = kept(folder.path()).remove(0);
    let before = fs::read_to_string(&file).unwrap();
    fs::write(&file, format!("{before}half a li\n")).unwrap();
    let page = songs.path().join("days.html");
    openchair(&folder, &["progress", "--html", page.to_str().unwrap()])
        .success()
        .stderr(contains("can't be read"));
    assert!(fs::read_to_string(&file).unwrap().contains("half a li"), "what is there is left");
    let page = fs::read_to_string(page).unwrap();
    assert!(page.contains("<h2>Lantern on the Landing</h2>") && page.contains("<svg"));
    assert!(!page.contains("<script") && !page.contains("http"), "nothing is fetched");
}
