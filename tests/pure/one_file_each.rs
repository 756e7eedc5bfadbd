//! Each library that is an edge of the program is named in one place alone, so that another can take its place.

use std::fs;
use std::path::{Path, PathBuf};

/// Libraries, and the file or folder that alone may name each.
const PLACES: [(&str, &str); 10] = [
    ("cpal", "src/sink/system/"),
    ("hound", "src/sink/wav.rs"),
    ("httparse", "src/cli/serve/request.rs"),
    ("jack", "src/ports/jack.rs"),
    ("midir", "src/ports/system.rs"),
    ("midly", "src/midi_file/"),
    ("qrcode", "src/cli/serve/qr.rs"),
    ("rustysynth", "src/sink/soundfont.rs"),
    ("symphonia", "src/input/decoded.rs"),
    ("tokio", "src/live/system/console_events.rs"),
];

/// True if code names a crate: a path begins with it, or it is imported whole.
fn names(code: &str, library: &str) -> bool {
    let is_part = |it: char| it.is_alphanumeric() || it == '_' || it == ':';
    code.match_indices(library).any(|(at, _)| {
        let (before, after) = (&code[..at], &code[at + library.len()..]);
        let begins = !before.ends_with(is_part) || before.ends_with(" ::");
        let path = after.starts_with("::");
        let whole = before.trim_end().ends_with("use") && after.starts_with([';', ' ']);
        begins && (path || whole)
    })
}

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|end| end == "rs") {
            into.push(path);
        }
    }
}

#[test]
fn each_library_at_the_edge_is_named_in_its_own_place() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    assert!(files.len() > 300, "{} files", files.len());
    let mut found = [0; PLACES.len()];
    for file in files {
        let here = file.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/");
        let text = fs::read_to_string(&file).unwrap();
        // What is said of a library in words is no use of it.
        let code = text.lines().filter(|line| !line.trim_start().starts_with("//"));
        for (number, line) in code.enumerate() {
            for ((library, place), found) in PLACES.iter().zip(&mut found) {
                if names(line, library) {
                    assert!(here.starts_with(place), "{library} in {here}: {number}: {line}");
                    *found += 1;
                }
            }
        }
    }
    assert!(found.iter().all(|&count| count > 0), "{found:?}: a place that names its library not");
}

/// Windows would show it with both of its strokes: `C:\\Users\\u/songs`.
#[test]
fn no_path_is_joined_from_a_text_with_strokes() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    assert!(joins_strokes("folders.data_dir().join(\"openchair/songs\")"));
    assert!(!joins_strokes("folders.data_dir().join(\"openchair\").join(\"songs\")"));
    assert!(!joins_strokes("passes.collect::<Vec<_>>().join(\"/\")"));
    for file in files.iter().filter(|file| !file.ends_with("_tests.rs")) {
        let text = fs::read_to_string(file).unwrap();
        let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
        let joined: Vec<&str> = code.lines().filter(|line| joins_strokes(line)).collect();
        assert!(joined.is_empty(), "{}: {joined:?}", file.display());
    }
}

/// True if a line of code joins or pushes a text that has a stroke between other letters.
fn joins_strokes(line: &str) -> bool {
    [".join(\"", ".push(\""].iter().any(|call| {
        line.split(call).skip(1).any(|rest| {
            let joined = rest.split('"').next().unwrap_or_default();
            joined.trim_matches('/').contains('/')
        })
    })
}

#[test]
fn a_module_of_the_same_name_is_no_crate() {
    for code in [
        "use jack::Port;",
        "    let port = jack::MidiIn::default();",
        "f(jack::open)",
        "use ::jack::Port;",
        "use jack;",
        "use jack as server;",
    ] {
        assert!(names(code, "jack"), "{code}");
    }
    for code in
        ["use super::jack::Jack;", "mod jack;", "jack_state::Pulse", "\"jack\"", "hijack::it()"]
    {
        assert!(!names(code, "jack"), "{code}");
    }
}
