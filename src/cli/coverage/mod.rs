mod text;

use std::path::PathBuf;
use std::process::ExitCode;

use super::failure::Failure;
use super::files::say_to_stdout;
use super::options::Options;
use super::rehearse::{rehearsal, rendition};
use crate::chart::RoleSet;
use crate::coverage::CoverageReport;

use text::text;

#[derive(Debug, clap::Args)]
pub(super) struct Coverage {
    /// The song: a file, or a name that `openchair songs` lists
    pub song: PathBuf,
    #[command(flatten)]
    pub options: Options,
    /// List every bar
    #[arg(long)]
    pub bars: bool,
    /// Give it as JSON
    #[arg(long)]
    pub json: bool,
}

/// Says what the band covers and what it leaves for the player to do.
pub(super) fn run(asked: &Coverage) -> Result<ExitCode, Failure> {
    let rehearsal = rehearsal(&asked.song, asked.options.wishes()?)?;
    let band = rendition(&rehearsal)?;
    let covered = band.coverage(RoleSet::EMPTY);
    let style = &rehearsal.style().name;
    let report = CoverageReport::new(&band.arrangement, &covered, style, asked.bars);
    let words = if asked.json {
        serde_json::to_string_pretty(&report).map_err(Failure::failed)? + "\n"
    } else {
        text(&report)
    };
    say_to_stdout(&words)?;
    Ok(ExitCode::SUCCESS)
}
