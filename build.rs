//! Tells the program what it is built with, for `openchair --version`.

use std::env;
use std::process::Command;

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    let said = |name: &str| env::var(name).unwrap_or_else(|_| "unknown".to_owned());
    let compiler = env::var_os("RUSTC")
        .and_then(|rustc| Command::new(rustc).arg("--version").output().ok())
        .and_then(|output| String::from_utf8(output.stdout).ok())
        .map_or_else(|| "an unknown compiler".to_owned(), |version| version.trim().to_owned());
    println!("cargo:rustc-env=OPENCHAIR_TARGET={}", said("TARGET"));
    println!("cargo:rustc-env=OPENCHAIR_PROFILE={}", said("PROFILE"));
    println!("cargo:rustc-env=OPENCHAIR_COMPILER={compiler}");
}
