//! Each player's sound as a file of its own, and the room around the band.

use std::path::Path;
use std::process::{Command, Output};

use tempfile::TempDir;

use openchair::rehearsal::{Rehearsal, Shipped, Wishes};
use openchair::synth::{Renderer, Room};
use openchair::text::Source;

/// A bar of count-in and two of music.
const SONG: &str = "title = 'Two Planks'\nkey = 'G'\nmeter = '4/4'\ntempo = 160\nstyle = 'boom-chick'\n\
                    form = ['a']\n[section.a]\nchords = '| G | D |'\n";

fn exported(folder: &TempDir, more: &[&str]) -> Output {
    let path = folder.path().join("two-planks.toml");
    std::fs::write(&path, SONG).unwrap();
    Command::new(env!("CARGO_BIN_EXE_openchair"))
        .arg("export")
        .arg(&path)
        .args(more)
        .current_dir(folder.path())
        .output()
        .unwrap()
}

fn samples(path: &Path) -> Vec<f32> {
    let mut reader = hound::WavReader::open(path).unwrap();
    assert_eq!(reader.spec().sample_format, hound::SampleFormat::Float);
    reader.samples::<f32>().map(Result::unwrap).collect()
}

#[test]
fn stems_add_up_to_the_band() {
    // Without a word they are dry.
    for (asked, room) in [(&["--room", "parlor"][..], "parlor"), (&[], "dry")] {
        let folder = tempfile::tempdir().unwrap();
        let stems = ["--stems", "--count-in", "1", "-o", "mix.wav"];
        let out = exported(&folder, &[&stems, asked].concat());
        assert!(out.status.success(), "{out:?}");
        let names = ["bass", "chop", "guitar", "clicks"];
        let files = names.map(|name| samples(&folder.path().join(format!("mix-{name}.wav"))));
        assert!(!folder.path().join("mix.wav").exists());
        assert!(files.iter().all(|stem| stem.len() == files[0].len()));
        assert!(files.iter().all(|stem| stem.iter().any(|x| x.abs() > 1e-3)));
        // The band itself, before its limiter.
        let wishes = Wishes { count_in: 1, ..Wishes::default() };
        let source = Source::new("two-planks.toml", SONG).unwrap();
        let rehearsal = Rehearsal::read(&source, &Shipped, wishes).unwrap();
        let band = rehearsal.perform(rehearsal.arrangement().unwrap()).unwrap();
        let voices = rehearsal.voices().in_room(Room::parse(room).unwrap());
        let mut synth = voices.synth(&band.performance, 48_000).unlimited();
        let frames = files[0].len() / 2;
        assert_eq!(synth.total_frames(), frames as u64);
        let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
        synth.render(&mut left, &mut right);
        for (n, (left, right)) in left.iter().zip(&right).enumerate() {
            for (side, whole) in [left, right].into_iter().enumerate() {
                let sum: f32 = files.iter().map(|stem| stem[2 * n + side]).sum();
                assert!((sum - whole).abs() < 1e-5, "frame {n}: {sum} for {whole}");
            }
        }
    }
}

#[test]
fn stems_are_sound_files_with_names() {
    let folder = tempfile::tempdir().unwrap();
    for more in [&["--stems", "-o", "mix.mid"][..], &["--stems", "--format", "wav", "-o", "-"]] {
        let out = exported(&folder, more);
        assert_eq!(out.status.code(), Some(2), "{out:?}");
        assert!(String::from_utf8_lossy(&out.stderr).contains("--stems"), "{out:?}");
    }
    let out = exported(&folder, &["--room", "dry", "-o", "mix.mid"]);
    assert_eq!(out.status.code(), Some(2), "{out:?}");
    assert!(String::from_utf8_lossy(&out.stderr).contains("--room: a MIDI file"), "{out:?}");
    let out = exported(&folder, &["--room", "cave", "-o", "mix.wav"]);
    assert_eq!(out.status.code(), Some(2), "{out:?}");
    assert!(String::from_utf8_lossy(&out.stderr).contains("parlor"), "{out:?}");
}
