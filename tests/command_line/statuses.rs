//! The program as typed: what it writes, what it says, and the status it ends with: 0 done, 1 it
//! failed, 2 the command line was wrong.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::common::typed::{SONG, openchair};
use predicates::prelude::*;
use predicates::str::{contains, is_empty};
use tempfile::TempDir;

use crate::common::midi_file::MidiFile;

/// An export that the command line rules out: status 2, its reason on standard error, no file.
fn wrong_command(options: &[&str], said: &[&str]) {
    let folder = TempDir::new().unwrap();
    let out = folder.path().join("out.mid");
    let args = [&["export", SONG, "-o", out.to_str().unwrap()], options].concat();
    let mut done = openchair(&args).code(2).stdout(is_empty());
    for words in said {
        done = done.stderr(contains(*words));
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "nothing is written");
}

/// A song like the shipped one but for one line.
fn changed(folder: &Path, line: &str, by: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(SONG);
    let text = fs::read_to_string(path).unwrap();
    let found = text.lines().find(|other| other.starts_with(line)).unwrap();
    let song = folder.join("song.toml");
    fs::write(&song, text.replacen(found, by, 1)).unwrap();
    song
}

#[test]
fn export_writes_the_file_and_says_nothing() {
    let folder = TempDir::new().unwrap();
    let out = folder.path().join("lantern.mid");
    openchair(&["export", SONG, "-o", out.to_str().unwrap()])
        .success()
        .stdout(is_empty())
        .stderr(is_empty());
    let bytes = fs::read(&out).unwrap();
    let file = MidiFile::read(&bytes).unwrap();
    assert_eq!(file.tracks[0].name().as_deref(), Some("Lantern on the Landing"));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "no temporary file stays");
    // The ending is read in either case, and `.midi` is one too.
    for name in ["lantern.MID", "lantern.midi"] {
        let out = folder.path().join(name);
        openchair(&["export", SONG, "-o", out.to_str().unwrap()]).success();
        assert_eq!(fs::read(&out).unwrap(), bytes);
    }
}

#[test]
fn standard_output_takes_the_same_bytes() {
    let folder = TempDir::new().unwrap();
    let out = folder.path().join("a.mid");
    openchair(&["export", SONG, "-o", out.to_str().unwrap(), "--seed", "7"]).success();
    let bytes = fs::read(&out).unwrap();
    openchair(&["export", SONG, "-o", "-", "--format", "mid", "--seed", "7"])
        .success()
        .stdout(predicate::eq(bytes))
        .stderr(is_empty());
}

#[test]
fn a_file_that_was_there_is_replaced_whole() {
    let folder = TempDir::new().unwrap();
    let out = folder.path().join("a.mid");
    fs::write(&out, vec![0xAA; 1 << 20]).unwrap();
    openchair(&["export", SONG, "-o", out.to_str().unwrap()]).success();
    let bytes = fs::read(&out).unwrap();
    assert!(bytes.len() < 1 << 20);
    assert!(MidiFile::read(&bytes).is_ok());
}

#[test]
fn a_failed_export_leaves_the_file_that_was_there() {
    let folder = TempDir::new().unwrap();
    let out = folder.path().join("a.mid");
    fs::write(&out, "mine").unwrap();
    let song = changed(folder.path(), "key ", "key = 'H'");
    let args = ["export", song.to_str().unwrap(), "-o", out.to_str().unwrap()];
    openchair(&args).code(1).stdout(is_empty()).stderr(contains("song.toml"));
    assert_eq!(fs::read_to_string(&out).unwrap(), "mine");
}

#[test]
fn the_kind_of_file_must_be_known() {
    for (output, said) in
        [("take.txt", ".abc or .musicxml"), ("take", ".abc or .musicxml"), ("-", "--format mid")]
    {
        let args = ["export", SONG, "-o", output];
        openchair(&args).code(2).stdout(is_empty()).stderr(contains(said));
        assert!(!Path::new(env!("CARGO_MANIFEST_DIR")).join(output).exists());
    }
    // What is said outright counts for more than the name.
    let folder = TempDir::new().unwrap();
    let out = folder.path().join("take.txt");
    openchair(&["export", SONG, "-o", out.to_str().unwrap(), "--format", "mid"]).success();
    assert!(MidiFile::read(&fs::read(&out).unwrap()).is_ok());
}

#[test]
fn what_is_not_there_is_a_failure() {
    let gone = ["export", "songs/no-such-song.toml", "-o", "x.mid"];
    openchair(&gone).code(1).stdout(is_empty()).stderr(contains("there is no file songs/no-such"));
    openchair(&["export", "songs", "-o", "x.mid"]).code(1).stderr(contains("songs is a folder"));
    let out = TempDir::new().unwrap().path().join("no/such/folder/x.mid");
    openchair(&["export", SONG, "-o", out.to_str().unwrap()])
        .code(1)
        .stderr(contains("there is no such folder"));
}

#[test]
fn a_wrong_option_is_the_command_lines_fault() {
    wrong_command(&["--style", "boom-chic"], &["boom-chic", "did you mean `boom-chick`?"]);
    wrong_command(&["--style", "no/such.toml"], &["there is no style file no/such.toml"]);
    wrong_command(
        &["--style", "waltz"],
        &["waltz plays 3/4, and the song is in 4/4", "boom-chick"],
    );
    wrong_command(&["--sit-out", "gutar"], &["did you mean `guitar`?"]);
    wrong_command(&["--sit-out", "guitar@vers"], &["did you mean `guitar@verse`?"]);
    wrong_command(&["--sit-out", "guitar@"], &["guitar@chorus"]);
    wrong_command(&["--band", "bass,fidel"], &["did you mean `fiddle`?"]);
    wrong_command(&["--band", "bass,kazoo"], &["bass, chop, guitar, banjo, fiddle and lead"]);
    wrong_command(&["--key", "H"], &["write a note from A to G"]);
    wrong_command(&["--key", "c"], &["write the home note as a capital: `C`"]);
    wrong_command(&["--key", "G#"], &["Ab"]);
    wrong_command(&["--key", "Em"], &["the mode stays", "write `E`"]);
    for tempo in ["0", "-3", "9", "401", "fast", "nan", "inf", ""] {
        wrong_command(&[&format!("--tempo={tempo}")], &["10 to 400"]);
        wrong_command(&[&format!("--speed={tempo}")], &["10 to 400"]);
    }
    wrong_command(&["--count-in", "17"], &["from 0 to 16"]);
    wrong_command(&["--seed", "x"], &["x"]);
    wrong_command(&["--format", "mp3"], &["mid, wav"]);
    wrong_command(&["--no-such-option"], &["--no-such-option"]);
}

#[test]
fn no_command_is_a_wrong_command_line() {
    openchair(&[]).code(2).stdout(is_empty()).stderr(contains("export"));
    openchair(&["export"]).code(2).stderr(contains("SONG"));
    openchair(&["export", SONG]).code(2).stderr(contains("--output"));
    openchair(&["exprot", SONG]).code(2).stderr(contains("export"));
    openchair(&["--help"]).success().stdout(contains("check").and(contains("export")));
    openchair(&["--version"]).success().stdout(contains(env!("CARGO_PKG_VERSION")));
}

#[test]
fn a_song_whose_style_cannot_play_it_is_a_wrong_file() {
    let folder = TempDir::new().unwrap();
    let out = folder.path().join("a.mid");
    let song = changed(folder.path(), "style ", "style = 'waltz'");
    openchair(&["export", song.to_str().unwrap(), "-o", out.to_str().unwrap()])
        .code(1)
        .stdout(is_empty())
        .stderr(contains("waltz plays 3/4, and the song is in 4/4").and(contains("1 problem")));
    assert!(!out.exists());
}

#[test]
fn check_passes_what_is_shipped() {
    for (paths, counted) in [
        (&["songs"][..], "18 files"),
        (&["backing-styles"], "13 files"),
        (&["songs", "backing-styles"], "31 files"),
        (&[SONG], "1 file"),
    ] {
        let args = [&["check"], paths].concat();
        openchair(&args)
            .code(0)
            .stderr(is_empty())
            .stdout(contains("no problems").and(contains(counted)));
    }
}

#[test]
fn check_hints_at_a_break_that_nobody_plays() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("stile.toml");
    let said = |more: &str, form: &str, row: &str| {
        let text = format!(
            "title = 'Stile'\nkey = 'G'\nmeter = '4/4'\ntempo = 100\nstyle = 'drive'\nform = [{form}]\n{more}\n\
             [section.verse]\nchords = '| G | D |'\n{row}\n"
        );
        fs::write(&path, text).unwrap();
        let done = openchair(&["check", path.to_str().unwrap()]).code(0).stderr(is_empty());
        String::from_utf8(done.get_output().stdout.clone()).unwrap()
    };
    let form = "'verse: voice', 'verse: fiddle', 'verse: banjo'";
    let words = "nobody plays the break in `verse: fiddle`: put \"lead\" into `band`";
    let hinted = said("", form, "");
    assert!(
        hinted.contains(words) && hinted.ends_with("1 file checked, no problems\n"),
        "{hinted}"
    );
    let fine = "1 file checked, no problems\n";
    assert_eq!(said("band = ['bass', 'guitar', 'lead']", form, ""), fine);
    assert_eq!(said("", form, "melody = '| G / A B | d / / / |'"), fine);
    assert_eq!(said("", "'verse: voice', 'verse: banjo'", ""), fine);
    let own = "{ play = 'verse', lead = 'fiddle', sit_out = ['lead'] }";
    assert_eq!(said("", own, ""), fine);
    // In a folder only what is wrong is told.
    said("", form, "");
    openchair(&["check", folder.path().to_str().unwrap()]).code(0).stdout(fine);
}

#[test]
fn check_tells_every_problem_and_counts_them() {
    let folder = TempDir::new().unwrap();
    let text = "title = 't'\nkey = 'H'\nmeter = '5/4'\ntempo = 100\nstyle = 'drive'\n\
                form = ['verse']\n[section.verse]\nchords = '| G | Q |'\n";
    let song = folder.path().join("wrong.toml");
    fs::write(&song, text).unwrap();
    fs::write(folder.path().join("notes.toml"), "shopping = 'strings'\n").unwrap();
    let path = song.to_str().unwrap();
    let places = |line: u32| format!("wrong.toml:{line}:");
    openchair(&["check", path]).code(1).stderr(is_empty()).stdout(
        contains(places(2))
            .and(contains(places(3)))
            .and(contains(places(8)))
            .and(contains("3 problems")),
    );
    // A folder: the song is found, a file of another kind is passed over.
    openchair(&["check", folder.path().to_str().unwrap()])
        .code(1)
        .stdout(contains("3 problems").and(contains("1 file")));
    let done = openchair(&["check", "--json", path, SONG]).code(1).stderr(is_empty());
    let rows: serde_json::Value = serde_json::from_slice(&done.get_output().stdout).unwrap();
    let lines: Vec<u64> =
        rows.as_array().unwrap().iter().map(|row| row["line"].as_u64().unwrap()).collect();
    assert_eq!(lines, [2, 3, 8]);
    assert_eq!((rows[2]["text"].as_str(), rows[2]["column"].as_u64()), (Some("Q"), Some(17)));
    assert!(rows.as_array().unwrap().iter().all(|row| row["help"].as_str() != Some("")));
    openchair(&["check", "--json", SONG]).code(0).stdout("[]\n");
}

#[test]
fn check_fails_where_there_is_nothing_to_check() {
    let folder = TempDir::new().unwrap();
    openchair(&["check", folder.path().to_str().unwrap()])
        .code(1)
        .stderr(contains("no songs, styles, licks or lessons"));
    openchair(&["check", "no/such/file.toml"]).code(1).stderr(contains("there is no file"));
    openchair(&["check"]).code(2);
}

#[test]
fn check_does_not_pass_a_song_whose_style_is_wrong() {
    let folder = TempDir::new().unwrap();
    let song = changed(folder.path(), "style ", "style = 'mine'");
    let styles = folder.path().join("backing-styles");
    fs::create_dir(&styles).unwrap();
    let style = "about = 'mine'\nmeters = ['4/4']\n[[bass.bar]]\nbar = 'R . Q .'\n";
    fs::write(styles.join("mine.toml"), style).unwrap();
    openchair(&["check", song.to_str().unwrap()])
        .code(1)
        .stdout(contains("`mine` has mistakes").and(contains("1 problem in 1 file")));
    openchair(&["check", folder.path().to_str().unwrap()])
        .code(1)
        .stdout(contains("`Q` is no bass note").and(contains("`mine` has mistakes")));
}

#[test]
fn a_wrong_song_is_told_of_its_style_in_the_same_run() {
    let folder = TempDir::new().unwrap();
    let styles = folder.path().join("backing-styles");
    fs::create_dir(&styles).unwrap();
    fs::write(styles.join("mine.toml"), "about = 'mine'\n").unwrap();
    // A letter as Latin-1 writes it.
    fs::write(styles.join("latin.toml"), b"about = 'Caf\xe9'\n").unwrap();
    for (style, said) in [
        ("drvie", "did you mean `drive`?"),
        ("waltz", "waltz plays 3/4, and the song is in 4/4"),
        ("mine", "the backing style `mine` has mistakes"),
        ("latin", "latin.toml is not text"),
        ("./no.toml", "there is no style file"),
    ] {
        let song = changed(folder.path(), "style ", &format!("style = '{style}'"));
        let text = fs::read_to_string(&song).unwrap();
        let key = text.lines().find(|line| line.starts_with("key ")).unwrap();
        fs::write(&song, text.replacen(key, "key = 'H'", 1)).unwrap();
        let path = song.to_str().unwrap();
        let both = || contains("no key starts with `H`").and(contains(said));
        openchair(&["check", path]).code(1).stderr(is_empty()).stdout(both());
        openchair(&["check", path]).code(1).stdout(contains("2 problems in 1 file"));
        let out = folder.path().join("a.mid");
        let export = ["export", path, "-o", out.to_str().unwrap()];
        openchair(&export).code(1).stdout(is_empty()).stderr(both());
        openchair(&["play", path]).code(1).stdout(is_empty()).stderr(both());
        assert!(!out.exists());
    }
    // Where the meter is wrong as well, no style is called unfit for it.
    let song = changed(folder.path(), "meter ", "meter = '5/4'");
    openchair(&["check", song.to_str().unwrap()]).code(1).stdout(contains("1 problem in 1 file"));
}

#[test]
fn check_goes_on_after_a_file_that_cannot_be_read() {
    let folder = TempDir::new().unwrap();
    // A letter as Latin-1 writes it.
    fs::write(folder.path().join("a.toml"), b"title = 'Caf\xe9'\n").unwrap();
    fs::write(folder.path().join("b.toml"), "title = 't'\nkey = 'H'\n").unwrap();
    for options in [&["check"][..], &["check", "--json"]] {
        openchair(&[options, &["no-such.toml", folder.path().to_str().unwrap()]].concat())
            .code(1)
            .stdout(contains("b.toml"))
            .stderr(contains("no-such.toml").and(contains("a.toml is not text")));
    }
    openchair(&["check", "no-such.toml", SONG])
        .code(1)
        .stdout("1 file checked; 1 file could not be read\n");
}

#[test]
fn a_song_is_not_written_over() {
    let folder = TempDir::new().unwrap();
    let song = changed(folder.path(), "style ", "style = 'drive'");
    let before = fs::read(&song).unwrap();
    let path = song.to_str().unwrap();
    openchair(&["export", path, "-o", path, "--format", "mid"])
        .code(2)
        .stderr(contains("is the song itself"));
    assert_eq!(fs::read(&song).unwrap(), before);
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    // As `openchair export … -o - --format mid | head -c 10` does; the file is larger than a pipe holds.
    let folder = TempDir::new().unwrap();
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(SONG)).unwrap();
    let form = vec!["\"verse: voice\""; 400].join(", ");
    let start = text.find("form = [").unwrap();
    let end = start + text[start..].find("\n]").unwrap() + 2;
    let song = folder.path().join("long.toml");
    fs::write(&song, format!("{}form = [{form}]{}", &text[..start], &text[end..])).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_openchair"))
        .args(["export", song.to_str().unwrap(), "-o", "-", "--format", "mid"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut head = [0; 10];
    child.stdout.take().unwrap().read_exact(&mut head).unwrap();
    assert_eq!(&head, b"MThd\0\0\0\x06\0\x01");
    let done = child.wait_with_output().unwrap();
    assert!(done.status.success(), "{:?}", done.status);
    assert_eq!(String::from_utf8_lossy(&done.stderr), "");
}

#[test]
fn what_the_name_says_and_the_format_must_agree() {
    wrong_command(&["--format", "wav"], &["the name says .mid", "leave one of them out"]);
}

#[test]
fn a_role_that_the_style_says_nothing_about_leaves_its_chair_open() {
    let folder = TempDir::new().unwrap();
    let style = folder.path().join("bass-only.toml");
    fs::write(&style, "about = \"x\"\nmeters = [\"4/4\"]\n[[bass.bar]]\nbar = \"R . 5 .\"\n")
        .unwrap();
    let out = folder.path().join("out.mid");
    let (style, out) = (style.to_str().unwrap(), out.to_str().unwrap());
    openchair(&["export", SONG, "--style", style, "-o", out])
        .success()
        .stderr(contains("nothing for the chop to play: that chair is open"));
    let file = MidiFile::read(&fs::read(out).unwrap()).unwrap();
    assert_eq!(file.tracks.len(), 2, "the conductor's track and the bass's");
}
