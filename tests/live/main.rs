//! Against what is outside: JACK's and PulseAudio's servers, terminals, browsers, signals, the clock on the wall.
#![cfg(unix)]
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)] // A test fails by panicking.

#[path = "../common/mod.rs"]
mod common;
#[path = "../playing/mod.rs"]
mod playing;

mod completions;
mod dropout;
mod faults;
mod follow;
mod input;
mod jack;
mod listen;
#[cfg(target_os = "linux")]
mod microphone;
mod pedals;
mod program;
mod screen_terminal;
mod screen_tmux;
mod signals;
#[cfg(target_os = "linux")]
mod sound;
#[cfg(target_os = "linux")]
mod sound_device;
#[cfg(target_os = "linux")]
mod stranger;
mod take_back;
