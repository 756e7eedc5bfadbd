use std::process::ExitCode;

use super::args::Play;
use super::failure::Failure;

pub(super) fn run(_play: &Play) -> Result<ExitCode, Failure> {
    Err(Failure::failed("not wired"))
}
