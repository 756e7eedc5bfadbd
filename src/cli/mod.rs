//! The command line: reads files, picks a sink, shows what went wrong.

mod args;
mod bar_words;
mod beside;
mod check;
mod config;
mod coverage;
mod coverage_text;
mod drill;
mod export;
mod failure;
mod front;
mod hands;
mod hear;
mod jam;
mod learn;
mod lesson;
mod lesson_folder;
mod lesson_ready;
mod lesson_sheet;
mod lesson_tracks;
mod lessons;
mod library;
mod listen;
mod manual;
mod marks_file;
mod open_chair;
mod output;
mod plain;
mod play;
mod ports;
mod recorded;
mod rehearse;
mod review;
mod review_command;
mod review_text;
mod stage;
mod tab;
mod take_file;
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
        Command::Coverage(asked) => coverage::run(asked),
        Command::Drill(drill) => {
            drill::run(drill, |plan| play::drill(&drill.live, drill.options.seed, plan))
        }
        Command::Review(asked) => review::run(asked),
        Command::Hear(asked) => hear::run(asked),
        Command::Learn(learn) => learn::run(learn),
        Command::Lesson(lesson) => lesson::run(lesson),
        Command::Tab(tab) => tab::run(tab),
        Command::Ports(ports) => ports::run(ports),
        Command::Manual => manual::run(),
    };
    done.unwrap_or_else(Failure::show)
}
