//! The `openchair` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    openchair::cli::run()
}
