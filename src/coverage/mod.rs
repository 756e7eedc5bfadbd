//! What the band covers and what it leaves open: which parts of the beat sound in each bar, and what a
//! player of backup would therefore do. What covers what, and what follows from it, stands in `rules.toml`.

#[allow(clippy::module_inception)] // What the module is named for.
mod coverage;
mod facts;
mod job;
mod moment;
mod pass;
mod report;
mod rules;
mod shares;
mod singing;
mod stroke;

pub use crate::time::BeatPart;
pub use coverage::{BarCoverage, Coverage, coverage};
pub use job::Job;
pub use pass::{JobRun, PassCoverage};
pub use report::{
    BarReport, BeatWords, CoverageReport, JobCount, PassReport, Percents, RunReport, WholeReport,
};
pub use rules::Rule;
pub use shares::{Shares, SlotCoverage};
pub use singing::Singing;
