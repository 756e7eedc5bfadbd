//! Wrong styles, each named for its mistake, and what a player is told about them.

use std::fs;
use std::path::{Path, PathBuf};

use openchair::style::read_style;
use openchair::text::{Problems, Source, report};

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/wrong_styles");
    let mut files: Vec<_> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    files.sort();
    files
}

#[test]
fn each_says_where_and_what_and_what_instead() {
    let files = files();
    assert!(files.len() >= 20);
    for path in files {
        let name = path.file_stem().unwrap().to_str().unwrap();
        let text = fs::read_to_string(&path).unwrap();
        let source = Source::new(format!("{name}.toml"), text).unwrap();
        let mut problems = Problems::new();
        let style = read_style(name, &source, &mut problems);
        assert!(style.is_none() && !problems.is_empty(), "{name} is taken for sound");
        for problem in problems.in_order() {
            assert!(!problem.message.is_empty() && !problem.help.is_empty(), "{problem:?}");
        }
        insta::assert_snapshot!(name, report(&source, &problems, false));
    }
}
