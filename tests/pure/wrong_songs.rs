//! What a player is told about every kind of mistake in a song: each file of tests/wrong_songs is
//! named for its mistake, and its report is kept beside the others in tests/pure/snapshots.

use std::fs;
use std::path::{Path, PathBuf};

use openchair::chart::read_song;
use openchair::text::{Problems, Source, report};

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/wrong_songs");
    let mut files: Vec<_> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|file| file.extension().is_some_and(|extension| extension == "toml"));
    files.sort();
    files
}

fn read(file: &Path) -> (Source, Problems) {
    let name = file.file_name().unwrap().to_str().unwrap();
    let source = Source::new(name, fs::read_to_string(file).unwrap()).unwrap();
    let mut problems = Problems::new();
    assert!(read_song(&source, &mut problems).is_none(), "{name} was read as a song");
    (source, problems)
}

#[test]
fn every_mistake_has_its_report() {
    let files = files();
    assert!(files.len() >= 40, "only {} wrong songs", files.len());
    for file in files {
        let (source, problems) = read(&file);
        let stem = file.file_stem().unwrap().to_str().unwrap().to_owned();
        insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false }, {
            insta::assert_snapshot!(stem, report(&source, &problems, false));
        });
    }
}

#[test]
fn every_problem_says_where_what_and_what_instead() {
    for file in files() {
        let (source, problems) = read(&file);
        assert!(!problems.is_empty(), "{}", source.name);
        for problem in problems.in_order() {
            let place = format!("{}: {problem:?}", source.name);
            assert!(problem.span.end <= source.text.len(), "{place}");
            assert!(source.text.is_char_boundary(problem.span.start), "{place}");
            assert!(source.text.is_char_boundary(problem.span.end), "{place}");
            for words in [&problem.message, &problem.help] {
                assert!(words.len() > 8, "{place}");
                assert!(!words.ends_with('.') && !words.contains('\n'), "{place}");
                let first = words.chars().next().unwrap();
                assert!(!first.is_uppercase(), "{place}");
            }
        }
    }
}
