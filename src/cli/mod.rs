//! The command line: reads files, picks a sink, shows what went wrong.
//!
//! Options and files stand below the commands; each command has its own arguments, and `args` knows them all.

mod args;
mod band_page;
mod chart;
mod check;
mod completions;
mod coverage;
mod doctor;
mod drill;
mod export;
mod failure;
mod files;
mod hear;
mod import;
mod interrupt;
mod jam;
mod latency;
mod lead_sheet;
mod learn;
mod lesson;
mod manual;
mod options;
mod play;
mod ports;
mod progress;
mod rehearse;
mod review;
mod serve;
mod songs;
mod tab;
mod terminal;
mod voices;

use std::process::ExitCode;

use clap::Parser;

use args::{Args, Command};
use failure::Failure;

use crate::sink::aloud;
use crate::text::inert;

/// Runs the program with the process's own arguments.
pub fn run() -> ExitCode {
    // Before anything else: a shell waits, and reads standard output.
    if let Some(answered) = completions::answer() {
        return answered;
    }
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(error) => return wrong_line(&error),
    };
    let done = match &args.command {
        Command::Play(play) => play::run(play),
        Command::Export(export) => export::run(export),
        Command::Import(asked) => import::run(asked),
        Command::Serve(serve) => serve::run(serve),
        Command::Chart(chart) => chart::run(chart),
        Command::Check(check) => check::run(check),
        Command::Coverage(asked) => coverage::run(asked),
        Command::Drill(drill) => drill::run(drill),
        Command::Review(asked) => review::run(asked),
        Command::Progress(asked) => progress::run(asked),
        Command::Hear(asked) => hear::run(asked),
        Command::Latency(asked) => latency::run(asked),
        Command::Learn(learn) => learn::run(learn),
        Command::Lesson(lesson) => lesson::run(lesson),
        Command::Page(asked) => band_page::run(asked),
        Command::Tab(tab) => tab::run(tab),
        Command::Songs(songs) => songs::run(songs),
        Command::Ports(ports) => ports::run(ports),
        Command::Doctor(asked) => doctor::run(asked),
        Command::Completions { shell } => completions::run(shell),
        Command::Manual { command } => manual::run(command.as_deref()),
    };
    done.unwrap_or_else(Failure::show)
}

/// Says what is wrong with the command line, or what was asked about it. What it repeats of the line does nothing to
/// the terminal.
fn wrong_line(error: &clap::Error) -> ExitCode {
    let plain = error.render().to_string();
    let shown = inert(&plain);
    // Help and colours are the program's own.
    if shown == plain {
        let _ = error.print();
    } else {
        let _ = aloud(&shown);
    }
    u8::try_from(error.exit_code()).map_or(ExitCode::FAILURE, ExitCode::from)
}
