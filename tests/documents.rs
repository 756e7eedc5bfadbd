//! What the documents show can be used as it stands there.
#![allow(clippy::unwrap_used)] // A test fails by panicking.

use std::fs;
use std::path::Path;

use openchair::chart::read_song;
use openchair::live::{Action, PedalMap, keys_as_markdown};
use openchair::style::read_style;
use openchair::text::{Problems, Source, report};

/// The first example in TOML of a document.
fn example(document: &str) -> Source {
    example_after(document, "")
}

/// The first one after a heading.
fn example_after(document: &str, heading: &str) -> Source {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(document);
    let text = fs::read_to_string(path).unwrap();
    let (_, rest) = text.split_once(heading).unwrap();
    let (_, rest) = rest.split_once("```toml\n").unwrap();
    let (example, _) = rest.split_once("```").unwrap();
    Source::new(document, example).unwrap()
}

/// The lesson beside the songs has them, and so has the README's if it stands there.
#[test]
fn lessons_are_right() {
    let songs = Path::new(env!("CARGO_MANIFEST_DIR")).join("songs");
    let folder = tempfile::tempdir().unwrap();
    let lessons = folder.path().join("lessons");
    fs::create_dir(&lessons).unwrap();
    for entry in fs::read_dir(&songs).unwrap().map(|entry| entry.unwrap().path()) {
        if entry.is_file() {
            fs::copy(&entry, folder.path().join(entry.file_name().unwrap())).unwrap();
        }
    }
    fs::copy(songs.join("lessons/first-week.toml"), lessons.join("shipped.toml")).unwrap();
    let readmes = example_after("README.md", "## Lessons to give away");
    fs::write(lessons.join("readme.toml"), readmes.text).unwrap();
    let run = std::process::Command::new(env!("CARGO_BIN_EXE_openchair"))
        .arg("check")
        .arg(lessons)
        .output()
        .unwrap();
    let told = String::from_utf8(run.stdout).unwrap();
    assert_eq!(told, "2 files checked, no problems\n");
}

#[test]
fn the_readmes_song_is_right() {
    let source = example("README.md");
    let mut problems = Problems::new();
    let song = read_song(&source, &mut problems);
    assert!(problems.is_empty(), "{}", report(&source, &problems, false));
    assert!(song.is_some());
}

#[test]
fn the_smallest_style_is_right() {
    let source = example("backing-styles/README.md");
    let mut problems = Problems::new();
    let style = read_style("small", &source, &mut problems);
    assert!(problems.is_empty(), "{}", report(&source, &problems, false));
    assert!(style.is_some());
}

/// Every option that the program has is in the README, and every file that it names is there.
#[test]
fn the_readme_knows_the_options_and_the_songs() {
    let readme =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    for command in ["play", "drill", "export", "tab", "lesson", "learn"] {
        let help = std::process::Command::new(env!("CARGO_BIN_EXE_openchair"))
            .args([command, "--help"])
            .output()
            .unwrap();
        let help = String::from_utf8(help.stdout).unwrap();
        let words = help
            .split_whitespace()
            .map(|word| word.trim_end_matches(|c: char| ",.;:)".contains(c)));
        let options = words.filter(|word| word.starts_with("--"));
        for option in options.filter(|option| !["--help", "--output", "--format"].contains(option))
        {
            assert!(readme.contains(option), "README.md says nothing of {option}");
        }
    }
    for song in
        readme.split(|c: char| c.is_whitespace() || c == '`').filter(|w| w.starts_with("songs/"))
    {
        let file = song.trim_start_matches("SONG=");
        assert!(
            file == "songs/" || Path::new(env!("CARGO_MANIFEST_DIR")).join(file).exists(),
            "{file}"
        );
    }
}

#[test]
fn the_readmes_keys_are_the_programs() {
    let readme =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let table = keys_as_markdown();
    assert!(readme.contains(&table), "README.md's table of keys should be\n{table}");
}

/// The README's pedals can be taught so.
#[test]
fn the_readmes_pedals_are_right() {
    let readme =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let lines = readme.lines().map(|line| line.strip_prefix("    ").unwrap_or_default());
    let lines = lines.skip_while(|line| *line != "[pedal]").take_while(|line| !line.is_empty());
    let text: String = lines.map(|line| format!("{line}\n")).collect();
    let source = Source::new("README.md", text).unwrap();
    let mut problems = Problems::new();
    let map = PedalMap::read(&source, &mut problems);
    assert!(problems.is_empty(), "{}", report(&source, &problems, false));
    assert!(map.triggers(Action::PauseOrGo).count() == 1);
}
