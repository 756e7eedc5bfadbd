//! Backing styles: the patterns of every role for one kind of groove, as data.

mod backing_style;
mod condition;
mod feel;
mod instrument;
mod pattern;
mod role_style;

pub use backing_style::Style;
pub use condition::{BarFacts, Condition, Term};
pub use feel::Feel;
pub use instrument::Instrument;
pub use pattern::{BassNote, Degree, Loud, Pattern, Slot, Strike, Stroke};
pub use role_style::{Loudness, RoleStyle};
