//! The command line: reads files, picks a sink, shows what went wrong.

mod args;
mod check;
mod drill;
mod export;
mod failure;
mod follow;
mod library;
mod marks_file;
mod output;
mod play;
mod ports;
mod rehearse;
mod voices;

use std::process::ExitCode;

use clap::Parser;

use args::{Args, Command};
use failure::Failure;

/// Runs the program with the process's own arguments.
pub fn run() -> ExitCode {
    let args = Args::parse();
    let done = match &args.command {
        Command::Play(play) => play::run(play),
        Command::Export(export) => export::run(export),
        Command::Check(check) => check::run(check),
        Command::Drill(drill) => drill::run(drill, |plan| {
            let changes = plan.song.title;
            Err(Failure::failed(format!("{changes}: only --list is there yet")))
        }),
        Command::Ports(ports) => ports::run(ports),
    };
    done.unwrap_or_else(Failure::show)
}
