//! openchair: a string band that plays your chart and leaves a chair open for you.
//!
//! The modules stand in one direction; each imports only what stands before it:
//!
//! [`hash`], [`trellis`], [`time`], [`text`], [`condition`], [`midi_file`], [`theory`], [`band`] → [`chart`],
//! [`interchange`], [`style`] → [`arrange`] → [`perform`] → [`coverage`] →
//! [`backup`] → [`tablature`], [`take`] → [`hear`] → [`review`] → [`progress`] → [`page`], [`printed`], [`practice`] → [`lesson`],
//! [`synth`] → [`rehearsal`] → [`sink`] → [`ports`] → [`input`] → [`live`] → [`screen`] → [`cli`].
//!
//! Everything up to [`rehearsal`] is pure: no clock, no files, no global state. The same song, options
//! and seed give the same notes.
//!
//! What needs threads, files, a terminal or a device is behind the feature `devices`, which is on by default:
//! [`ports`], [`cli`] and the part of [`screen`], [`sink`], [`input`] and [`live`] that a system must stand
//! under. Without it the library builds for a browser too (`wasm32-unknown-unknown`).
//!
//! # From text to a MIDI file
//!
//! A song and a style are read and rehearsed, and what the band plays is written down:
//!
//! ```
//! use openchair::chart::read_song;
//! use openchair::midi_file::{Event, read};
//! use openchair::rehearsal::{Rehearsal, Wishes};
//! use openchair::sink::smf;
//! use openchair::style::read_style;
//! use openchair::text::{Problems, Source, report};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let song = Source::new("ferry.toml", r#"
//! title = "The Six O'Clock Ferry"
//! key   = "G"
//! meter = "4/4"
//! tempo = 104
//! style = "plain"
//! form  = ["verse: voice", "verse: voice"]
//!
//! [section.verse]
//! chords = "| G | C | D | G |"
//! "#)?;
//! let style = Source::new("plain.toml", r#"
//! about  = "Bass on one and three, chop on two and four"
//! meters = ["4/4"]
//!
//! [[bass.bar]]
//! bar = "R . 5 ."
//!
//! [[chop.bar]]
//! bar = "- x - x"
//! "#)?;
//!
//! // The mistakes of a text are shown all at once, each under its line and with what to write instead.
//! let mut problems = Problems::new();
//! let read_song = read_song(&song, &mut problems);
//! let (song, _) = read_song.ok_or_else(|| report(&song, &problems, false))?;
//! let read_style = read_style("plain", &style, &mut problems);
//! let style = read_style.ok_or_else(|| report(&style, &problems, false))?;
//!
//! let rehearsal = Rehearsal::new(song, style, Wishes { seed: 7, ..Wishes::default() })?;
//! let played = rehearsal.perform(rehearsal.arrangement()?)?;
//! let bytes = smf::to_bytes(&played.performance)?;
//!
//! // Read back: the second track is the bass's, and its first note is the G that it finds under its hand.
//! let file = read(&bytes)?;
//! let first = file.tracks[1].iter().find_map(|(_, event)| match event {
//!     Event::Channel([0x90..=0x9F, pitch, _], _) => Some(*pitch),
//!     _ => None,
//! });
//! assert_eq!(first.map(|pitch| pitch % 12), Some(7));
//! let again = rehearsal.perform(rehearsal.arrangement()?)?;
//! assert_eq!(bytes, smf::to_bytes(&again.performance)?, "the same seed, the same notes");
//! # Ok(())
//! # }
//! ```

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
pub mod interchange;
pub mod lesson;
pub mod live;
pub mod midi_file;
pub mod page;
pub mod perform;
#[cfg(feature = "devices")]
pub mod ports;
pub mod practice;
pub mod printed;
pub mod progress;
pub mod rehearsal;
pub mod review;
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
