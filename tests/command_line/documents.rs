//! What the documents show can be used as it stands there.

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

/// The documents, as seen from the project's folder.
const DOCUMENTS: [&str; 7] = [
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    "songs/README.md",
    "backing-styles/README.md",
    "tests/reference/README.md",
    "Makefile",
];

/// The words of a document that name a file or a folder of the project: `perform/cues.rs`, `tests/playing/`.
fn paths(text: &str) -> Vec<&str> {
    const ENDINGS: [&str; 10] =
        [".rs", ".toml", ".md", ".py", ".txt", ".json", ".jsonl", ".sh", ".css", "/"];
    let apart = |c: char| c.is_whitespace() || "`()[],;|\"'*".contains(c);
    let words = text.split(apart).map(|word| word.trim_end_matches(['.', ':']));
    let names = |word: &&str| {
        let inside = word.trim_end_matches('/');
        // Parts in capitals are to be filled in; a tilde, a dollar or a leading slash is the user's own.
        let to_fill = inside.split(['/', '.']).any(|part| {
            part.len() > 1 && part.chars().all(|c| c.is_ascii_uppercase()) && part != "README"
        });
        let plain = word.chars().all(|c| c.is_ascii_alphanumeric() || "_-./".contains(c));
        let folders = inside.contains('/') || word.ends_with('/') && word.len() > 1;
        plain
            && folders
            && !to_fill
            && !word.starts_with(['/', '.'])
            && ENDINGS.iter().any(|ending| word.ends_with(ending))
    };
    words.filter(names).collect()
}

/// Each path stands in the project, as seen from its folder, the document's, `src` or `tests`.
#[test]
fn every_path_that_a_document_names_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut seen = 0;
    let mut missing = Vec::new();
    for document in DOCUMENTS {
        let text = fs::read_to_string(root.join(document)).unwrap();
        let own = root.join(document).parent().unwrap().to_owned();
        let bases = [root.to_owned(), own, root.join("src"), root.join("tests")];
        for path in paths(&text) {
            seen += 1;
            // Where cargo builds is made, not kept.
            let made = path.starts_with("target/");
            if !made && !bases.iter().any(|base| base.join(path).exists()) {
                missing.push(format!("{document}: {path}"));
            }
        }
    }
    assert!(missing.is_empty(), "{missing:#?}");
    assert!(seen > 60, "only {seen} paths were found in the documents");
}

#[test]
fn paths_are_told_from_other_words() {
    let text = "See `perform/cues.rs`, [songs](songs/README.md) and tests/playing/; not FILE.mid, \
                `songs/NAME.toml`, ~/.config/openchair/, take.wav, 4/4 or and/or.";
    assert_eq!(paths(text), ["perform/cues.rs", "songs/README.md", "tests/playing/"]);
}

/// What the code calls a thing is what the document calls it: `take::Recorded`, `SoundOpener`.
#[test]
fn every_item_that_the_developers_read_of_is_in_the_code() {
    fn read(folder: &Path, into: &mut String) {
        for entry in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
            if entry.is_dir() {
                read(&entry, into);
            } else if entry.extension().is_some_and(|ending| ending == "rs") {
                into.push_str(&fs::read_to_string(entry).unwrap());
            }
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (mut code, mut seen) = (String::new(), 0);
    read(&root.join("src"), &mut code);
    let known: std::collections::BTreeSet<&str> =
        code.split(|c: char| !c.is_alphanumeric() && c != '_').collect();
    let text = fs::read_to_string(root.join("DEVELOPERS.md")).unwrap();
    for quoted in text.split('`').skip(1).step_by(2) {
        let item = quoted.trim_end_matches("()");
        let is_item = item.contains("::") || item.starts_with(|c: char| c.is_ascii_uppercase());
        let plain = item.chars().all(|c| c.is_ascii_alphanumeric() || "_:".contains(c));
        let camel = item.chars().any(|c| c.is_ascii_lowercase());
        if is_item && plain && camel {
            seen += 1;
            for part in item.split("::") {
                assert!(
                    known.contains(part),
                    "DEVELOPERS.md: no `{part}` in the code, as in `{item}`"
                );
            }
        }
    }
    assert!(seen > 15, "only {seen} items were found");
}

/// Every option that the program has is in the README, and every file that it names is there.
#[test]
fn the_readme_knows_the_options_and_the_songs() {
    let readme =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    for command in ["play", "drill", "export", "tab", "chart", "serve", "lesson", "learn"] {
        let help = std::process::Command::new(env!("CARGO_BIN_EXE_openchair"))
            .args([command, "--help"])
            .output()
            .unwrap();
        let help = String::from_utf8(help.stdout).unwrap();
        let words = help
            .split_whitespace()
            .map(|word| word.trim_end_matches(|c: char| ",.;:)".contains(c)));
        // A value that may be left out stands behind it in brackets.
        let words = words.map(|word| word.split('[').next().unwrap());
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
