//! The program as typed, and the files that it writes.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)] // A test fails by panicking.

#[path = "../common/mod.rs"]
mod common;
#[path = "../playing/mod.rs"]
mod playing;

mod chart;
mod coverage;
mod doctor;
mod documents;
mod drill;
mod export_with_banjo;
mod exported_files;
mod flac;
mod import;
mod kickoffs_and_endings;
mod lesson;
mod listen;
mod loudness;
mod manual;
mod page;
mod progress;
mod review;
mod review_page;
mod serve;
mod songs;
mod statuses;
mod stems;
mod strangers_files;
mod tab_command;
mod takes;
