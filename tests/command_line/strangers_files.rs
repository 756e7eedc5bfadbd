//! Files from strangers: what a song or a lesson names is not opened wherever it points, and a file that
//! cannot be read is not passed for sound.

use std::fs;
use std::path::Path;

use predicates::prelude::*;
use predicates::str::contains;

use crate::common::typed::{SONG, openchair};

/// What stands in the files that must not be opened.
const SECRET: &str = "mellon";

fn song(folder: &Path, style: &str) -> String {
    let path = folder.join("song.toml");
    let text = format!(
        "title = 'Heron Reel'\nkey = 'G'\nmeter = '4/4'\ntempo = 108\nstyle = '{style}'\nform = ['a']\n\
         [section.a]\nchords = '| G | C | D | G |'\n"
    );
    fs::write(&path, text).unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn a_song_opens_no_style_outside_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("songs");
    fs::create_dir(&inside).unwrap();
    for name in ["secret.toml", "secret"] {
        fs::write(folder.path().join(name), format!("{SECRET} = [\n{SECRET}\n")).unwrap();
    }
    fs::write(inside.join("notes"), format!("{SECRET} = [\n")).unwrap();
    let whole = folder.path().join("secret.toml");
    for style in [
        "../secret.toml",
        "../secret",
        "./../secret.toml",
        "x/../../secret.toml",
        "../../../../../../../../etc/passwd",
        "/etc/passwd",
        "./notes",
        "C:/secret.toml",
        whole.to_str().unwrap(),
    ] {
        let song = song(&inside, style);
        for args in [vec!["check", &song], vec!["export", &song, "-o", "-", "--format", "mid"]] {
            let done = openchair(&args).code(1);
            let out = done.get_output();
            let said = String::from_utf8_lossy(&out.stdout).into_owned()
                + &String::from_utf8_lossy(&out.stderr);
            assert!(!said.contains(SECRET) && !said.contains("root:"), "{style}: {said}");
            assert!(said.contains("song.toml:5:10"), "{style}: {said}");
            assert!(said.contains("write a style's name"), "{style}: {said}");
        }
    }
}

#[test]
fn a_style_beside_the_song_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let style = "about = 'mine'\nmeters = ['4/4']\n[[bass.bar]]\nbar = 'R . 5 .'\n";
    fs::create_dir(folder.path().join("styles")).unwrap();
    fs::write(folder.path().join("styles/mine.toml"), style).unwrap();
    for style in ["styles/mine.toml", "./styles/mine.toml"] {
        openchair(&["check", &song(folder.path(), style)]).success();
    }
    openchair(&["check", &song(folder.path(), "drive.toml")])
        .code(1)
        .stdout(contains("did you mean the style `drive`?"));
    // The player's own wish goes anywhere, but to a style's file alone.
    let path = folder.path().join("styles/mine.toml");
    let (song, path) = (song(folder.path(), "drive"), path.to_str().unwrap().to_owned());
    openchair(&["export", &song, "-o", "-", "--format", "mid", "--style", &path]).success();
    openchair(&["export", &song, "-o", "-", "--format", "mid", "--style", "/etc/passwd"])
        .code(2)
        .stderr(contains("its name does not end in .toml").and(contains("root:").not()));
}

#[test]
fn a_lesson_opens_no_style_outside_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("lessons");
    fs::create_dir(&inside).unwrap();
    fs::write(folder.path().join("secret.toml"), format!("{SECRET} = [\n")).unwrap();
    song(&inside, "drive");
    let lesson = inside.join("lesson.toml");
    let text = "title = 'First week'\n[[item]]\nsong = 'song.toml'\nstyle = '../secret.toml'\n";
    fs::write(&lesson, text).unwrap();
    openchair(&["check", lesson.to_str().unwrap()])
        .code(1)
        .stdout(contains("lesson.toml:4:10").and(contains(SECRET).not()));
}

#[test]
fn a_file_that_cannot_be_read_is_not_said_to_have_no_problems() {
    let folder = tempfile::tempdir().unwrap();
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(SONG)).unwrap();
    let utf16: Vec<u8> =
        format!("\u{feff}{text}").encode_utf16().flat_map(u16::to_le_bytes).collect();
    let path = folder.path().join("utf16.toml");
    fs::write(&path, utf16).unwrap();
    let path = path.to_str().unwrap();
    openchair(&["check", path])
        .code(1)
        .stdout("1 file could not be read\n")
        .stderr(contains("UTF-16").and(contains("save it again with the encoding UTF-8")));
    openchair(&["check", "no-such.toml"])
        .code(1)
        .stdout("1 file could not be read\n")
        .stderr(contains("there is no file no-such.toml"));
    openchair(&["check", path, "no-such.toml", SONG])
        .code(1)
        .stdout("1 file checked; 2 files could not be read\n");
    openchair(&["export", path, "-o", "-", "--format", "mid"]).code(1).stderr(contains("UTF-16"));
}

/// What would set a terminal's title, and what turns the direction of writing.
const ACTS: &str = "\u{1b}]0;mine\u{7}\u{202e}";

/// Nothing that a stranger wrote, named or sent does anything to the terminal that shows it: titles of songs and of
/// takes, names of files, what was typed, in all that the program says.
#[test]
fn what_strangers_wrote_does_nothing_to_the_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("song.toml");
    let text = "title = \"Heron\\u001b]0;mine\\u0007\\u202e\"\ncomposer = \"x\\u001b[31m\"\nkey = 'G'\nmeter = '4/4'\n\
                tempo = 108\nstyle = 'boom-chick'\nform = ['verse: voice']\n[section.verse]\n\
                chords = '| G | C | D | G |'\n";
    fs::write(&song, text).unwrap();
    let odd = folder.path().join(format!("odd{ACTS}.toml"));
    fs::write(&odd, "title = 3\n").unwrap();
    let (song, odd) = (song.to_str().unwrap(), odd.to_str().unwrap());
    let lines: Vec<Vec<&str>> = vec![
        vec!["coverage", song, "--sit-out", "chop"],
        vec!["coverage", song, "--json"],
        vec!["tab", song, "--sit-out", "chop"],
        vec!["check", song],
        vec!["check", odd],
        vec!["review", song, odd],
        vec!["play", song, "--style", ACTS],
        vec!["play", song, "--port", ACTS],
        vec!["play", song, "--key", ACTS],
        vec!["songs", ACTS],
        vec!["export", song, "-o", odd],
        vec!["export", song, ACTS],
        vec!["nonsense", ACTS],
    ];
    for line in lines {
        let program = env!("CARGO_BIN_EXE_openchair");
        let done = std::process::Command::new(program).args(&line).output().unwrap();
        for (stream, bytes) in [("out", &done.stdout), ("err", &done.stderr)] {
            let said = String::from_utf8_lossy(bytes);
            let acts = |c: char| {
                c.is_control() && c != '\n' && c != '\t' || ('\u{202a}'..='\u{202e}').contains(&c)
            };
            assert!(!said.contains(acts), "{line:?} {stream}: {said:?}");
        }
        assert!(!(done.stdout.is_empty() && done.stderr.is_empty()), "{line:?} says nothing");
    }
}

/// A pipe would be waited for without end, a device has none: neither is opened. What a shell passes is read.
#[cfg(unix)]
#[test]
fn what_is_no_file_is_not_waited_for() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("tune.toml");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let pipe = pipe.to_str().unwrap();
    for args in [
        vec!["check", pipe],
        vec!["play", pipe],
        vec!["hear", pipe],
        vec!["import", pipe],
        vec!["export", SONG, "--style", pipe, "-o", "-", "--format", "mid"],
    ] {
        openchair(&args).code(predicate::in_iter([1, 2])).stderr(contains(pipe));
    }
    for args in [["hear", "/dev/zero"], ["check", "/dev/zero"]] {
        openchair(&args).code(1).stderr(contains("it is a device, no file"));
    }
    let passed = format!("{} check <(cat {SONG})", env!("CARGO_BIN_EXE_openchair"));
    let mut shell = std::process::Command::new("bash");
    shell.args(["-c", &passed]).current_dir(env!("CARGO_MANIFEST_DIR"));
    assert!(shell.status().unwrap().success());
}
