//! The program as typed.

use assert_cmd::assert::Assert;

/// The song that most commands are tried on.
pub const SONG: &str = "songs/lantern-on-the-landing.toml";

/// Runs it in the project's folder.
pub fn openchair(args: &[&str]) -> Assert {
    assert_cmd::Command::new(env!("CARGO_BIN_EXE_openchair"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        // What it keeps of the user's is none of the tester's.
        .env("XDG_DATA_HOME", concat!(env!("CARGO_TARGET_TMPDIR"), "/data"))
        .env("APPDATA", concat!(env!("CARGO_TARGET_TMPDIR"), "/data"))
        .args(args)
        .assert()
}
