//! The manual pages, made from the command line's own words and the table of keys.

use std::io;
use std::process::ExitCode;

use clap::{Command, CommandFactory};
use clap_mangen::Man;
use clap_mangen::roff::{Roff, bold, roman};

use super::args::Args;
use super::failure::Failure;
use super::files::to_stdout;
use crate::live::BINDINGS;

/// Commands that play while keys are pressed.
const WITH_KEYS: [&str; 2] = ["play", "drill"];

/// Writes the page of a command, or of them all, in roff, to standard output.
pub(super) fn run(command: Option<&str>) -> Result<ExitCode, Failure> {
    let page = match command {
        Some(name) => {
            is_command(name)?;
            command_page(name)
        }
        None => page(),
    };
    to_stdout(&page.map_err(Failure::failed)?)?;
    Ok(ExitCode::SUCCESS)
}

/// The program as it knows itself, with what its library adds but for the command that only repeats `--help`.
fn program() -> Command {
    let mut program = Args::command();
    program.build();
    program
}

fn commands(program: &Command) -> impl Iterator<Item = &Command> {
    program.get_subcommands().filter(|command| command.get_name() != "help")
}

fn is_command(name: &str) -> Result<(), Failure> {
    let program = program();
    let names: Vec<&str> = commands(&program).map(Command::get_name).collect();
    let unknown = || format!("there is no command {name:?}, but one of {}", names.join(", "));
    names.contains(&name).then_some(()).ok_or_else(|| Failure::usage(unknown()))
}

/// `openchair-NAME(1)`.
fn command_page(name: &str) -> io::Result<Vec<u8>> {
    let program = program();
    let mut page = Vec::new();
    for command in commands(&program).filter(|command| command.get_name() == name) {
        // At the foot of each page stands what it is a page of.
        let man =
            Man::new(command.clone()).source(concat!("openchair ", env!("CARGO_PKG_VERSION")));
        man.render_title(&mut page)?;
        man.render_name_section(&mut page)?;
        man.render_synopsis_section(&mut page)?;
        man.render_description_section(&mut page)?;
        man.render_options_section(&mut page)?;
    }
    let mut last = Roff::new();
    if WITH_KEYS.contains(&name) {
        keys(&mut last);
        care(&mut last);
    }
    statuses(&mut last);
    last.control("SH", ["SEE ALSO"]);
    last.text([bold("openchair"), roman("(1)")]);
    last.to_writer(&mut page)?;
    Ok(page)
}

/// `openchair(1)`, with all commands.
fn page() -> io::Result<Vec<u8>> {
    let program = program();
    let man = Man::new(program.clone());
    let mut page = Vec::new();
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    for command in commands(&program) {
        part(command, &mut page)?;
    }
    let mut last = Roff::new();
    keys(&mut last);
    files(&mut last);
    statuses(&mut last);
    care(&mut last);
    last.to_writer(&mut page)?;
    Ok(page)
}

/// A command with its options, under a heading of its own.
fn part(command: &Command, page: &mut Vec<u8>) -> io::Result<()> {
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

fn statuses(page: &mut Roff) {
    page.control("SH", ["EXIT STATUS"]);
    for (status, what) in [
        ("0", "Done."),
        ("1", "It failed, and standard error says why."),
        ("2", "The command line was wrong."),
        ("130, 143", "Stopped by Ctrl-C or a request to terminate, after the last note was ended."),
    ] {
        page.control("TP", []);
        page.text([bold(status)]);
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
