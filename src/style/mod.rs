//! Backing styles: the patterns of every role for one kind of groove, as data.
//!
#![doc = include_str!("../../backing-styles/README.md")]

mod backing_style;
mod bar_text;
mod condition;
mod dynamics;
mod feel;
mod instrument;
mod numbers;
mod pattern;
mod read_bars;
mod read_dynamics;
mod read_part;
mod read_style;
mod role_style;
mod slot_word;
mod when;

pub use backing_style::Style;
pub use condition::{BarFacts, Condition, Term};
pub use dynamics::{Dynamics, Tag};
pub use feel::Feel;
pub use instrument::Instrument;
pub use pattern::{BanjoStrings, BassNote, Degree, Loud, Pattern, Slot, Strike, Stroke};
pub use read_style::read_style;
pub use role_style::{Loudness, RoleStyle};
