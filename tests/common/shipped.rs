//! The songs and styles that come with the program.
#![allow(dead_code)] // Not every test binary looks at everything.

use std::fs;
use std::path::{Path, PathBuf};

use openchair::arrange::{Plan, arrange};
use openchair::chart::{Song, read_song};
use openchair::perform::perform;
use openchair::sink::smf;
use openchair::style::{BassNote, Degree, Pattern, Slot, Style, Tag, read_style};
use openchair::text::{Problems, Source, report};

use super::midi_file::MidiFile;

/// The TOML files of a folder of the program, by name.
pub fn files(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut files: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    files.sort();
    files
}

pub fn song(toml: &str) -> Song {
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    let song = read_song(&source, &mut problems);
    assert!(problems.is_empty(), "{}", report(&source, &problems, false));
    song.unwrap().0
}

pub fn style(name: &str, toml: &str) -> Style {
    let source = Source::new(name, toml).unwrap();
    let mut problems = Problems::new();
    let style = read_style(name, &source, &mut problems);
    assert!(problems.is_empty(), "{}", report(&source, &problems, false));
    style.unwrap()
}

pub fn songs() -> Vec<(PathBuf, Song)> {
    let read = |path: PathBuf| {
        let song = song(&fs::read_to_string(&path).unwrap());
        (path, song)
    };
    files("songs").into_iter().map(read).collect()
}

pub fn styles() -> Vec<Style> {
    let read = |path: PathBuf| {
        style(path.file_stem().unwrap().to_str().unwrap(), &fs::read_to_string(&path).unwrap())
    };
    files("backing-styles").into_iter().map(read).collect()
}

/// Every song with every style that plays its meter.
pub fn pairs() -> Vec<(PathBuf, Song, Style)> {
    let styles = styles();
    let fitting = |(path, song): (PathBuf, Song)| {
        let fitting: Vec<_> = styles.iter().filter(|style| style.fits(song.meter)).collect();
        fitting.into_iter().map(|s| (path.clone(), song.clone(), s.clone())).collect::<Vec<_>>()
    };
    songs().into_iter().flat_map(fitting).collect()
}

/// From song to bytes, by the library.
pub fn export(song: &Song, plan: &Plan, style: &Style, seed: u64) -> Vec<u8> {
    let plan = Plan { tag: style.tag, ..plan.clone() };
    let arrangement = arrange(song, &plan).unwrap();
    let performance = perform(&arrangement, style, seed).unwrap();
    smf::to_bytes(&performance).unwrap()
}

/// The same, read back.
pub fn exported(song: &Song, plan: &Plan, style: &Style, seed: u64) -> MidiFile {
    MidiFile::read(&export(song, plan, style, seed)).unwrap()
}

/// The style without its walks, without the line of a tag and without the bars that add a sixth or a seventh to the chord, so
/// that every note is one of the chord's.
pub fn without_walks(style: &Style) -> Style {
    let mut plain = Style { tag: Tag::Chords, ..style.clone() };
    for (_, part) in &mut plain.parts {
        part.bars.retain(|bar| !bar.walks() && !bar.runs_home() && !adds_to_the_chord(bar));
    }
    plain
}

fn adds_to_the_chord(bar: &Pattern) -> bool {
    bar.slots.iter().any(|slot| {
        let Slot::Strike(strike) = slot else { return false };
        let added = |degree| matches!(degree, Degree::Sixth | Degree::Seventh);
        matches!(strike.bass, Some(BassNote::Degree { degree, .. }) if added(degree))
    })
}
