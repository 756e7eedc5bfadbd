//! What is there, what is missing, and what to do: on a machine as the test makes it.

use std::fs;

use assert_cmd::Command;
use serde_json::Value;

fn doctor(data: &std::path::Path, more: &[(&str, &str)]) -> Vec<Value> {
    let mut command = Command::new(env!("CARGO_BIN_EXE_openchair"));
    command.args(["doctor", "--json"]).env("XDG_DATA_HOME", data).env("XDG_CONFIG_HOME", data);
    command.env("APPDATA", data).envs(more.iter().copied());
    let done = command.assert().code(0).stderr("");
    serde_json::from_slice(&done.get_output().stdout).unwrap()
}

fn finding<'a>(all: &'a [Value], what: &str) -> &'a Value {
    all.iter().find(|finding| finding["what"] == what).unwrap_or_else(|| panic!("{what}"))
}

#[test]
fn all_is_looked_at_and_what_is_missing_has_something_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let all = doctor(folder.path(), &[]);
    for what in
        ["openchair", "sound", "microphone", "MIDI outputs", "MIDI inputs", "real-time priority"]
    {
        assert!(!finding(&all, what)["says"].as_str().unwrap().is_empty(), "{what}");
    }
    for finding in &all {
        if finding["stands"] != "well" {
            assert!(!finding["do"].as_str().unwrap().is_empty(), "{finding}");
        }
    }
    assert_eq!(finding(&all, "data folder")["stands"], "well");
    // Nothing was made by looking; what sound servers' libraries make is theirs.
    assert!(!folder.path().join("openchair").exists());
}

#[cfg(target_os = "linux")]
#[test]
fn what_is_broken_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("openchair");
    fs::create_dir_all(&own).unwrap();
    fs::write(own.join("pedals.toml"), "pause = [\n").unwrap();
    let all = doctor(folder.path(), &[]);
    let pedals = finding(&all, "pedals");
    assert_eq!(pedals["stands"], "wrong");
    assert!(pedals["do"].as_str().unwrap().contains("pedals.toml"), "{pedals}");
    // A folder that can't be written to, by anyone.
    let all = doctor(std::path::Path::new("/proc/self"), &[]);
    assert_eq!(finding(&all, "data folder")["stands"], "wrong");
}

#[test]
fn the_version_says_what_it_was_built_with() {
    let mut long = Command::new(env!("CARGO_BIN_EXE_openchair"));
    let done = long.arg("--version").assert().code(0);
    let said = String::from_utf8_lossy(&done.get_output().stdout).into_owned();
    assert!(said.starts_with(&format!("openchair {}\n", env!("CARGO_PKG_VERSION"))), "{said}");
    assert!(said.contains("built for ") && said.contains("rustc"), "{said}");
    let mut short = Command::new(env!("CARGO_BIN_EXE_openchair"));
    short.arg("-V").assert().stdout(format!("openchair {}\n", env!("CARGO_PKG_VERSION")));
}
