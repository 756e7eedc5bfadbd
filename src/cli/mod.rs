//! The command line: reads files, picks a sink, shows what went wrong.

mod args;
mod check;
mod export;
mod failure;
mod library;
mod output;
mod rehearse;

use std::process::ExitCode;

use clap::Parser;

use args::{Args, Command};
use failure::Failure;

/// Runs the program with the process's own arguments.
pub fn run() -> ExitCode {
    let args = Args::parse();
    let done = match &args.command {
        Command::Export(export) => export::run(export),
        Command::Check(check) => check::run(check),
    };
    done.unwrap_or_else(Failure::show)
}
