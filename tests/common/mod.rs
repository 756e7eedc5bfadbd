//! What several tests share; each takes what it needs.
#![allow(dead_code)] // Not every group of tests looks at everything.

pub mod banjo_hands;
pub mod browser;
pub mod contract;
pub mod effort;
pub mod likeness;
pub mod loudness;
pub mod made_up;
pub mod midi_file;
pub mod name;
pub mod played;
pub mod player;
#[cfg(target_os = "linux")]
pub mod pulse;
pub mod reviews;
pub mod rolls;
pub mod shipped;
pub mod skip;
pub mod slurred;
pub mod sound;
pub mod stage;
pub mod timetable;
pub mod tiny_soundfont;
pub mod tmux;
pub mod typed;
pub mod written;
pub mod xml_tree;
