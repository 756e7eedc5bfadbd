use clap::ValueEnum;

use super::headings::SONG;
use super::level::level;
use crate::backup::Level;
use crate::cli::failure::Failure;
use crate::rehearsal::HasBanjo;

/// Who plays along in the open chair, and how much.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(in crate::cli) struct OpenChair {
    /// Add a banjo that plays what the band leaves open
    #[arg(long, value_name = "ROLE", value_enum, help_heading = SONG)]
    pub with: Option<With>,
    /// How much the banjo plays: plain rolls, then sixths, then lead-ins, or full
    #[arg(long, value_name = "LEVEL", help_heading = SONG, requires = "with", value_parser = level)]
    pub level: Option<Level>,
}

/// Who can fill the open chair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum With {
    /// The banjo
    Banjo,
}

/// What is said where the chair is not open.
pub(in crate::cli) fn taken(why: HasBanjo) -> Failure {
    Failure::Usage(format!("--with banjo: {why}; add --sit-out banjo, so that its chair is open"))
}

impl OpenChair {
    /// How much the banjo in the open chair plays, if one is asked for.
    pub(in crate::cli) fn banjo(self) -> Option<Level> {
        self.with.map(|With::Banjo| self.level.unwrap_or(Level::Full))
    }
}
