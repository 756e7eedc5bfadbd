//! What a shell offers when Tab is pressed: options from the command line's own words, and songs, styles, sections, roles
//! and ports as there are.

use std::env;
use std::ffi::OsStr;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Arg, Command, CommandFactory};
use clap_complete::env::{CompleteEnv, Shells};
use clap_complete::{ArgValueCandidates, ArgValueCompleter, CompletionCandidate, PathCompleter};

use super::args::Args;
use super::failure::Failure;
use super::files::{OwnSongs, find_song, to_stdout};
use crate::chart::{Role, Song, read_song};
use crate::live::BINDINGS;
use crate::ports::{MidiPort, ports_list};
use crate::rehearsal::Shipped;
use crate::sink;
use crate::text::Problems;
use crate::theory::Chord;

/// What a shell sets when it asks.
const ASKED: &str = "OPENCHAIR_COMPLETE";

/// Bash takes `chop@verse` and `G:C` apart before it asks, unless it is told that these are no ends of words.
const WHOLE_WORDS: &str = "COMP_WORDBREAKS=${COMP_WORDBREAKS//[@:]/}\n";

/// Writes what the shell is to read.
pub(super) fn run(shell_name: &str) -> Result<ExitCode, Failure> {
    let name = Args::command().get_name().to_owned();
    let shells = Shells::builtins();
    let Some(shell) = shells.completer(shell_name) else {
        return Err(Failure::failed(format!("{shell_name} has no completions")));
    };
    let mut script = Vec::new();
    shell.write_registration(ASKED, &name, &name, &name, &mut script).map_err(Failure::failed)?;
    if shell_name == "bash" {
        script.extend_from_slice(WHOLE_WORDS.as_bytes());
    }
    to_stdout(&script)?;
    Ok(ExitCode::SUCCESS)
}

/// Answers a shell that asks, and gives then the end of the program.
pub(super) fn answer() -> Option<ExitCode> {
    let env = CompleteEnv::with_factory(program).var(ASKED);
    let here = env::current_dir().ok();
    match env.try_complete(env::args_os(), here.as_deref()) {
        Ok(false) => None,
        Ok(true) => Some(ExitCode::SUCCESS),
        // A shell shows nothing of what goes wrong here.
        Err(_) => Some(ExitCode::FAILURE),
    }
}

/// The command line with what its values may be.
fn program() -> Command {
    let mut program = Args::command();
    let names: Vec<String> = program.get_subcommands().map(|it| it.get_name().to_owned()).collect();
    for name in names {
        program = program.mut_subcommand(name, |command| command.mut_args(with_values));
    }
    program
}

fn with_values(arg: Arg) -> Arg {
    let value = arg.get_value_names().and_then(|names| names.first()).map(ToString::to_string);
    let files = |ending: &'static [&'static str]| {
        let fits = move |path: &std::path::Path| {
            let of = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
            ending.contains(&of.as_str())
        };
        ArgValueCompleter::new(PathCompleter::file().filter(fits))
    };
    match (arg.get_id().as_str(), value.as_deref()) {
        ("song" | "things", _) => arg.add(ArgValueCompleter::new(songs)),
        ("take", _) => arg.add(files(&["wav", "flac", "mp3", "ogg", "m4a", "aiff", "mid", "midi"])),
        ("lesson" | "paths" | "licks", _) => arg.add(files(&["toml"])),
        ("soundfont", _) => arg.add(files(&["sf2"])),
        ("port", _) => arg.add(ArgValueCandidates::new(|| ports(ports_list().outputs))),
        ("pedal" | "listen" | "follow", _) => {
            arg.add(ArgValueCandidates::new(|| ports(ports_list().inputs)))
        }
        ("device", _) => arg.add(ArgValueCandidates::new(|| devices(sink::sound_devices))),
        ("listen_mic", _) => arg.add(ArgValueCandidates::new(|| devices(sink::microphones))),
        ("change", _) => arg.add(ArgValueCandidates::new(changes)),
        (_, Some("STYLE")) => arg.add(ArgValueCompleter::new(styles)),
        (_, Some("ROLE,ROLE" | "ROLE")) => arg.add(ArgValueCandidates::new(|| words(roles()))),
        (_, Some("ROLE[@SECTION]")) => arg.add(ArgValueCompleter::new(sit_outs)),
        (_, Some("SECTION|BARS")) => arg.add(ArgValueCandidates::new(|| words(sections()))),
        (_, Some("rings|fits")) => arg.add(ArgValueCandidates::new(|| words(["rings", "fits"]))),
        (_, Some("grid|tight|band|loose")) => {
            arg.add(ArgValueCandidates::new(|| words(["grid", "tight", "band", "loose"])))
        }
        (_, Some("ACTION")) => arg.add(ArgValueCandidates::new(|| {
            words(BINDINGS.iter().map(|binding| binding.action.word()))
        })),
        (_, Some("FOLDER")) => arg.add(ArgValueCompleter::new(PathCompleter::dir())),
        (_, Some("FILE")) => arg.add(ArgValueCompleter::new(PathCompleter::any())),
        _ => arg,
    }
}

fn words<W: Into<String>>(words: impl IntoIterator<Item = W>) -> Vec<CompletionCandidate> {
    words.into_iter().map(|word| CompletionCandidate::new(word.into())).collect()
}

/// Songs by name, and files.
fn songs(typed: &OsStr) -> Vec<CompletionCandidate> {
    let own = OwnSongs::of_user().files().into_iter().map(|(name, _)| name);
    let names = own.chain(Shipped::songs());
    or_files(typed, words(names))
}

fn styles(typed: &OsStr) -> Vec<CompletionCandidate> {
    or_files(typed, words(Shipped::styles()))
}

/// The names that go on as what is typed, or the song files and folders that do.
fn or_files(typed: &OsStr, names: Vec<CompletionCandidate>) -> Vec<CompletionCandidate> {
    let begun = typed.to_string_lossy();
    let names = names.into_iter();
    let mut fitting: Vec<CompletionCandidate> = names
        .filter(|name| name.get_value().to_string_lossy().starts_with(begun.as_ref()))
        .collect();
    let toml = |path: &std::path::Path| path.extension().is_some_and(|ending| ending == "toml");
    let files = ArgValueCompleter::new(PathCompleter::file().filter(toml)).complete(typed);
    fitting.extend(files);
    fitting
}

fn roles() -> impl Iterator<Item = &'static str> {
    Role::ALL.into_iter().map(Role::as_str)
}

/// `chop`, `chop@verse`, of the roles and the song's sections, and after commas the same again.
fn sit_outs(typed: &OsStr) -> Vec<CompletionCandidate> {
    let typed = typed.to_string_lossy();
    let (before, last) = match typed.rfind(',') {
        Some(at) => typed.split_at(at + 1),
        None => ("", typed.as_ref()),
    };
    let all: Vec<String> = match last.split_once('@') {
        Some((role, _)) => sections()
            .into_iter()
            .chain(["turns".to_owned(), "surprise".to_owned()])
            .map(|section| format!("{role}@{section}"))
            .collect(),
        None => roles().map(str::to_owned).collect(),
    };
    words(
        all.into_iter().filter(|word| word.starts_with(last)).map(|word| format!("{before}{word}")),
    )
}

/// The song that stands in the line already, if it can be read.
fn song() -> Option<Song> {
    let typed = env::args_os().skip_while(|word| word != "--").skip(3);
    typed
        .filter(|word| !word.to_string_lossy().starts_with('-'))
        .filter_map(|word| find_song(&PathBuf::from(word)).ok())
        .find_map(|(source, _)| read_song(&source, &mut Problems::new()))
        .map(|(song, _)| song)
}

fn sections() -> Vec<String> {
    song().map_or_else(Vec::new, |song| song.sections.into_iter().map(|it| it.name).collect())
}

/// The song's changes of chord, `G:C`, in the order in which they come.
fn changes() -> Vec<CompletionCandidate> {
    let Some(song) = song() else { return Vec::new() };
    let bars = song.sections.iter().flat_map(|section| &section.bars);
    let chords: Vec<Chord> = bars.flat_map(|bar| &bar.chords).filter_map(|it| it.value).collect();
    let mut changes: Vec<String> = Vec::new();
    for pair in chords.windows(2) {
        let [from, to] = pair else { continue };
        let change = format!("{from}:{to}");
        if from != to && !changes.contains(&change) {
            changes.push(change);
        }
    }
    words(changes)
}

fn ports(ports: Vec<MidiPort>) -> Vec<CompletionCandidate> {
    words(ports.into_iter().map(|port| port.name))
}

fn devices(list: fn() -> Vec<sink::SoundDevice>) -> Vec<CompletionCandidate> {
    words(sink::quietly(list).into_iter().map(|device| device.name))
}
