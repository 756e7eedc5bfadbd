//! The manual page, made from the command line's own words and the table of keys.

use std::process::ExitCode;

use clap::{Command, CommandFactory};
use clap_mangen::Man;
use clap_mangen::roff::{Roff, bold, roman};

use super::args::Args;
use super::failure::Failure;
use super::files::to_stdout;
use crate::live::BINDINGS;

/// Writes the page, in roff, to standard output.
pub(super) fn run() -> Result<ExitCode, Failure> {
    to_stdout(&page().map_err(Failure::failed)?)?;
    Ok(ExitCode::SUCCESS)
}

fn page() -> std::io::Result<Vec<u8>> {
    let mut program = Args::command();
    program.build();
    let man = Man::new(program.clone());
    let mut page = Vec::new();
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    for command in program.get_subcommands().filter(|command| command.get_name() != "help") {
        part(command, &mut page)?;
    }
    let mut last = Roff::new();
    keys(&mut last);
    files(&mut last);
    care(&mut last);
    last.to_writer(&mut page)?;
    Ok(page)
}

/// A command with its options, under a heading of its own.
fn part(command: &Command, page: &mut Vec<u8>) -> std::io::Result<()> {
    let mut head = Roff::new();
    head.control("SH", [format!("openchair {}", command.get_name()).as_str()]);
    if let Some(about) = command.get_about() {
        head.text([roman(format!("{about}."))]);
    }
    head.to_writer(page)?;
    // The library makes sections of them, of which a page for all commands would have too many.
    let mut options = Vec::new();
    Man::new(command.clone()).render_options_section(&mut options)?;
    let options = String::from_utf8_lossy(&options).into_owned();
    let preamble = |line: &&str| !line.starts_with(".ie ") && !line.starts_with(".el ");
    for line in options.lines().filter(preamble) {
        let heading = line.strip_prefix(".SH ").map(|title| format!(".SS {title}"));
        page.extend_from_slice(heading.as_deref().unwrap_or(line).as_bytes());
        page.push(b'\n');
    }
    Ok(())
}

fn keys(page: &mut Roff) {
    page.control("SH", ["KEYS"]);
    page.text([roman("While the band plays. In brackets, the word that teaches it to a pedal.")]);
    for binding in BINDINGS {
        page.control("TP", []);
        page.text([bold(binding.key_words())]);
        page.text([roman(format!("{} ({})", binding.says, binding.word))]);
    }
}

fn files(page: &mut Roff) {
    page.control("SH", ["FILES"]);
    for (path, what) in [
        ("~/.config/openchair/pedals.toml", "What pedals are taught; on Linux."),
        ("~/.local/share/openchair/marks", "How far you are with each song's changes; on Linux."),
    ] {
        page.control("TP", []);
        page.text([roman(path)]);
        page.text([roman(what)]);
    }
}

fn care(page: &mut Roff) {
    page.control("SH", ["CARE"]);
    page.text([roman(
        "Keep headphones low, and rest your hands before they ask for it. If something hurts or \
         rings, stop, and see a doctor; for how to sit and hold the instrument, ask a teacher.",
    )]);
}
