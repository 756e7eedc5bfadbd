//! How well the band plays: bounds on what is measured of its notes. `make musicianship` prints all of it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // A test fails by panicking.

mod bounds;
mod faults;
mod measure;
#[path = "../common/midi_file.rs"]
mod midi_file;
mod published_shapes;
#[path = "../common/shipped.rs"]
mod shipped;
