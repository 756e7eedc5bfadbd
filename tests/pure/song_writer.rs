//! A song that is written comes back as the same song: every shipped one, and songs made up with all
//! that a song can hold.

use std::fs;

use openchair::chart::{Song, read_song, write_song};
use openchair::text::{Problems, Source, report};
use proptest::prelude::*;

use crate::common::{made_up, shipped};

fn read(toml: &str) -> Result<Song, String> {
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    match read_song(&source, &mut problems) {
        Some((song, _)) => Ok(song),
        None => Err(format!("{toml}\n{}", report(&source, &problems, false))),
    }
}

/// Writes the song and reads it back, twice.
fn there_and_back(song: &Song) -> Result<String, TestCaseError> {
    let text = write_song(song);
    let back = read(&text).map_err(TestCaseError::fail)?;
    prop_assert_eq!(&back, song, "{}", text);
    prop_assert_eq!(write_song(&back), text.as_str());
    Ok(text)
}

#[test]
fn every_shipped_song_comes_back() {
    let songs = shipped::songs();
    assert!(songs.len() >= 16);
    for (path, song) in songs {
        there_and_back(&song).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    }
}

/// What is written is what stands in the file, but for remarks, what goes without saying, and where
/// its columns and the form's lines stand.
#[test]
fn shipped_songs_are_written_as_they_stand() {
    for name in ["patch-on-the-patch", "eels-in-the-kettle", "cradle-at-the-lock-house"] {
        let path = format!("{}/songs/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        let original = fs::read_to_string(path).unwrap();
        let plain = |text: &str| -> String {
            let kept =
                text.lines().filter(|line| !line.starts_with('#') && *line != "ending   = \"hit\"");
            let words: Vec<&str> = kept.flat_map(str::split_whitespace).collect();
            words.join(" ").replace("[ ", "[").replace(", ]", "]")
        };
        let written = write_song(&read(&original).unwrap());
        assert_eq!(plain(&written), plain(&original), "{written}");
    }
}

#[test]
fn written_songs_look_like_this() {
    for name in ["one-plank-short", "goat-on-the-ferry-rail", "not-a-word-to-marit"] {
        let path = format!("{}/songs/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        let written = write_song(&read(&fs::read_to_string(path).unwrap()).unwrap());
        insta::assert_snapshot!(name, written);
    }
}

proptest! {
    #[test]
    fn any_song_comes_back(toml in made_up::song_text()) {
        let song = read(&toml).map_err(TestCaseError::fail)?;
        let text = there_and_back(&song)?;
        // Nobody scrolls sideways for the form, and no line ends in blanks but in the player's own words.
        let form = text.lines().filter(|line| line.starts_with("form"));
        prop_assert!(form.into_iter().all(|line| line.chars().count() <= 100));
        let rows = text.split_once("\n[section").map_or("", |(_, rows)| rows);
        let rows = rows.lines().filter(|line| line.starts_with('|'));
        prop_assert!(rows.into_iter().all(|line| line.ends_with('|')));
    }
}
