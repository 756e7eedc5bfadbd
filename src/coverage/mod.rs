//! What the band covers and what it leaves open: which parts of the beat sound in each bar, and what a
//! player of backup would therefore do.

#[allow(clippy::module_inception)] // What the module is named for.
mod coverage;
mod job;
mod place;

pub use coverage::{BarCoverage, Coverage, Shares, Singing, SlotCoverage, coverage};
pub use job::Job;
pub use place::Place;
