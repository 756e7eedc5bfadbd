//! The live screen: what a player reads from two metres away.
//!
//! [`View`] holds every word and number on it, computed without a terminal; [`draw`] lays a view out
//! in a frame of any size; [`Screen`] is the terminal itself.

mod bars;
mod big;
mod cells;
mod chart_line;
mod chord_words;
mod chords;
mod draw;
#[cfg(test)]
mod draw_tests;
mod form_row;
mod heard;
mod help;
mod job;
mod layout;
mod letters;
mod panels;
mod place;
mod tab;
mod task;
mod terminal;
mod view;

pub use cells::Look;
pub use chart_line::{BandMark, BarView, Mark};
pub use chord_words::{ChordWords, chord_words};
pub use draw::draw;
pub use heard::HeardView;
pub use help::{draw_help, help_pages};
pub use job::{Open, Task, TaskWords, Told, silent_next};
pub use place::Coming;
pub use terminal::{Input, Keyboard, Screen, has_keys};
pub use view::{BanjoView, Chair, Drill, Facts, Now, Singer, Tab, TabView, View, announced};
