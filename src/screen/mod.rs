//! The live screen: what a player reads from two metres away.
//!
//! [`View`] holds every word and number on it, computed without a terminal, for whatever shows it. With the feature
//! `devices`, `draw` lays a view out in a frame of any size, and `Screen` is the terminal itself.

#[cfg(feature = "devices")]
mod bars;
#[cfg(feature = "devices")]
mod big;
#[cfg(feature = "devices")]
mod cells;
mod chart_line;
mod chord_words;
#[cfg(feature = "devices")]
mod chords;
#[cfg(feature = "devices")]
mod draw;
#[cfg(all(test, feature = "devices"))]
mod draw_tests;
#[cfg(feature = "devices")]
mod form_row;
mod heard;
#[cfg(feature = "devices")]
mod help;
mod job;
#[cfg(feature = "devices")]
mod layout;
#[cfg(feature = "devices")]
mod letters;
#[cfg(feature = "devices")]
mod panels;
mod place;
#[cfg(feature = "devices")]
mod tab;
#[cfg(feature = "devices")]
mod task;
#[cfg(feature = "devices")]
mod terminal;
mod view;

#[cfg(feature = "devices")]
pub use cells::Look;
pub use chart_line::{BandMark, BarView, Mark, chart_lines};
pub use chord_words::{ChordWords, chord_words};
#[cfg(feature = "devices")]
pub use draw::draw;
pub use heard::{HeardView, heard_words};
#[cfg(feature = "devices")]
pub use help::{draw_help, help_pages};
pub use job::{Open, Task, TaskWords, Told, silent_next};
pub use place::Coming;
#[cfg(feature = "devices")]
pub use terminal::{Input, Keyboard, Screen, has_keys};
pub use view::{BanjoView, Chair, Drill, Facts, Now, Singer, Tab, TabView, View, announced};
