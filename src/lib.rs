//! openchair: a string band that plays your chart and leaves a chair open for you.
//!
//! The modules stand in one direction; each imports only what stands before it:
//!
//! [`hash`], [`trellis`], [`time`], [`text`], [`condition`], [`midi_file`], [`theory`], [`band`] → [`chart`],
//! [`style`] → [`arrange`] → [`perform`] → [`coverage`] →
//! [`backup`] → [`tablature`], [`take`] → [`hear`] → [`review`] → [`page`], [`practice`] → [`lesson`], [`synth`] →
//! [`sink`] → [`ports`] → [`input`] → [`live`] → [`screen`] → [`cli`].
//!
//! Everything up to [`synth`] is pure: no clock, no files, no global state. The same song, options
//! and seed give the same notes.
//!
//! What needs threads, files, a terminal or a device is behind the feature `devices`, which is on by default:
//! [`ports`], [`screen`], [`cli`] and the part of [`sink`], [`input`] and [`live`] that a system must stand
//! under. Without it the library builds for a browser too (`wasm32-unknown-unknown`).

#![warn(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

pub mod arrange;
pub mod backup;
pub mod band;
pub mod chart;
#[cfg(feature = "devices")]
pub mod cli;
pub mod condition;
pub mod coverage;
pub mod hash;
pub mod hear;
pub mod input;
pub mod lesson;
pub mod live;
pub mod midi_file;
pub mod page;
pub mod perform;
#[cfg(feature = "devices")]
pub mod ports;
pub mod practice;
pub mod review;
#[cfg(feature = "devices")]
pub mod screen;
pub mod sink;
pub mod style;
pub mod synth;
pub mod tablature;
pub mod take;
pub mod text;
pub mod theory;
pub mod time;
pub mod trellis;
