//! The arrangement: the form unrolled into one timeline of bars, each with its chords, who plays,
//! who rests, and what a player of backup would notice about it.

mod arrangement;
mod bar_words;
mod counted_in;
mod ending;
mod excerpt;
mod kickoff;
mod looseness;
mod neighbours;
mod plan;
mod shape;
mod sung;
mod unroll;

pub use arrangement::{Arrangement, Bar, BarKind, ChordId, MelodyNote, PassStart, Span, StopSpan};
pub use bar_words::{bar_words, pass_words};
pub use kickoff::KickoffPlan;
pub use looseness::Looseness;
pub use plan::{Plan, PlanError, SitOut};
pub use unroll::arrange;
