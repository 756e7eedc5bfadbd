//! What is there to play with on this machine, what is missing, and what to do about it.

use std::fmt::Write;
use std::fs;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::thread;

use serde::Serialize;

use super::failure::Failure;
use super::files::{Latencies, OwnSongs, PedalFile, say_to_stdout};
use super::terminal::{shows_a_screen, shows_all_signs};
use crate::live::raise_priority;
use crate::ports::{MidiPort, MidiSystem, ports_list, running_server};
use crate::rehearsal::Shipped;
use crate::sink::{self, SoundDevice};

#[derive(Debug, clap::Args)]
pub(super) struct Doctor {
    /// Give it as JSON
    #[arg(long)]
    pub json: bool,
}

/// How something stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
enum Stands {
    /// It is there.
    Well,
    /// It is not, and can be done without.
    Missing,
    /// It is not, and something can't be done without it.
    Wrong,
}

/// One thing that was looked at.
#[derive(Debug, Serialize)]
struct Finding {
    what: &'static str,
    stands: Stands,
    /// What is there.
    says: String,
    /// What to do; empty if nothing is.
    #[serde(rename = "do", skip_serializing_if = "String::is_empty")]
    to_do: String,
}

impl Finding {
    fn well(what: &'static str, says: impl Into<String>) -> Self {
        Self { what, stands: Stands::Well, says: says.into(), to_do: String::new() }
    }

    fn or(
        what: &'static str,
        stands: Stands,
        says: impl Into<String>,
        to_do: impl Into<String>,
    ) -> Self {
        Self { what, stands, says: says.into(), to_do: to_do.into() }
    }
}

/// What the program is built with: after its version, and for whoever reports a fault.
pub(super) const BUILT: &str = concat!(
    env!("CARGO_PKG_VERSION"),
    "\nbuilt for ",
    env!("OPENCHAIR_TARGET"),
    " (",
    env!("OPENCHAIR_PROFILE"),
    ") by ",
    env!("OPENCHAIR_COMPILER")
);

/// Looks at all that a band needs, and says how it stands.
pub(super) fn run(asked: &Doctor) -> Result<ExitCode, Failure> {
    let midi = ports_list();
    let devices = sink::quietly(sink::sound_devices);
    let microphones = sink::quietly(sink::microphones);
    let findings: Vec<Finding> = [
        Finding::well("openchair", BUILT.replace('\n', ", ")),
        sound(&devices, !midi.outputs.is_empty()),
        microphone(&microphones),
        outputs(&midi.outputs, &midi.hints, !devices.is_empty()),
        inputs(&midi.inputs),
        priority(),
        terminal(),
        songs(),
        folder(),
        kept("pedals", PedalFile::read().err()),
        kept("delays of microphones", Latencies::read().err()),
    ]
    .into_iter()
    .chain(cfg!(target_os = "linux").then(|| jack(&midi.outputs)))
    .collect();
    let text = if asked.json {
        serde_json::to_string_pretty(&findings).map_err(Failure::failed)? + "\n"
    } else {
        plain(&findings)
    };
    say_to_stdout(&text)?;
    Ok(ExitCode::SUCCESS)
}

fn plain(findings: &[Finding]) -> String {
    let mut out = String::new();
    let widest = findings.iter().map(|finding| finding.what.len()).max().unwrap_or(0);
    for Finding { what, stands, says, to_do } in findings {
        let sign = match stands {
            Stands::Well => "ok",
            Stands::Missing => "--",
            Stands::Wrong => "!!",
        };
        let _ = writeln!(out, "{sign}  {what:<widest$}  {says}");
        if !to_do.is_empty() {
            let _ = writeln!(out, "    {:<widest$}  {to_do}", "");
        }
    }
    let open = findings.iter().filter(|finding| finding.stands != Stands::Well).count();
    let wrong = findings.iter().filter(|finding| finding.stands == Stands::Wrong).count();
    let _ = match (wrong, open) {
        (0, 0) => writeln!(out, "\nAll is there."),
        (0, _) => writeln!(
            out,
            "\nThe band can play. What is marked -- is missing, and can be done without."
        ),
        _ => writeln!(out, "\nWhat is marked !! is in the way: do what stands under it."),
    };
    out
}

fn names<'a>(names: impl Iterator<Item = &'a str>) -> String {
    names.collect::<Vec<_>>().join(", ")
}

fn sound(devices: &[SoundDevice], has_port: bool) -> Finding {
    const WHAT: &str = "sound";
    if let Some(device) = devices.first() {
        let rate = f64::from(device.sample_rate) / 1000.0;
        return Finding::well(WHAT, format!("{}, {rate} kHz", device.name));
    }
    let stands = if has_port { Stands::Missing } else { Stands::Wrong };
    let to_do = "plug in or switch on a sound device; until then play to a MIDI port with --port, or write files \
                 with openchair export";
    Finding::or(WHAT, stands, "no sound device answers", to_do)
}

fn microphone(microphones: &[SoundDevice]) -> Finding {
    const WHAT: &str = "microphone";
    match microphones.first() {
        Some(one) => Finding::well(WHAT, one.name.as_str()),
        None => Finding::or(
            WHAT,
            Stands::Missing,
            "none answers",
            "play --listen-mic needs one; a recording made elsewhere can be reviewed without",
        ),
    }
}

fn outputs(ports: &[MidiPort], hints: &[String], has_sound: bool) -> Finding {
    const WHAT: &str = "MIDI outputs";
    if !ports.is_empty() {
        return Finding::well(WHAT, names(ports.iter().map(|port| port.name.as_str())));
    }
    let stands = if has_sound { Stands::Missing } else { Stands::Wrong };
    let mut to_do = "plug in a synthesizer or start one, for play --port".to_owned();
    for hint in hints {
        let _ = write!(to_do, "; {hint}");
    }
    Finding::or(WHAT, stands, "none", to_do)
}

fn inputs(ports: &[MidiPort]) -> Finding {
    const WHAT: &str = "MIDI inputs";
    if ports.is_empty() {
        let to_do =
            "plug in a pedal, or an instrument that speaks MIDI, to be heard by play --listen";
        return Finding::or(WHAT, Stands::Missing, "none", to_do);
    }
    Finding::well(WHAT, names(ports.iter().map(|port| port.name.as_str())))
}

/// The sound server whose clients play on exact samples; here it is asked on Linux alone.
fn jack(outputs: &[MidiPort]) -> Finding {
    const WHAT: &str = "JACK";
    let runs =
        running_server().is_some() || outputs.iter().any(|port| port.system == MidiSystem::Jack);
    if runs {
        return Finding::well(WHAT, "a server runs");
    }
    Finding::or(
        WHAT,
        Stands::Missing,
        "no server runs",
        "not needed; with one, notes come on their exact sample",
    )
}

fn priority() -> Finding {
    const WHAT: &str = "real-time priority";
    // On a thread that ends at once: this one keeps its own.
    let asked = thread::Builder::new().spawn(raise_priority).map(thread::JoinHandle::join);
    match asked {
        Ok(Ok(Ok(()))) => Finding::well(WHAT, "granted"),
        Ok(Ok(Err(why))) => Finding::or(WHAT, Stands::Missing, "not granted", why),
        _ => Finding::or(WHAT, Stands::Missing, "could not be asked for", ""),
    }
}

fn terminal() -> Finding {
    const WHAT: &str = "screen";
    if !io::stdout().is_terminal() {
        return Finding::well(WHAT, "not looked at: this goes to a file or a pipe");
    }
    if !shows_all_signs() {
        let to_do = "set LC_ALL to a locale that ends in UTF-8; until then a line a bar is shown";
        return Finding::or(WHAT, Stands::Missing, "this terminal shows ASCII alone", to_do);
    }
    if !shows_a_screen() {
        let to_do = "set TERM to what the terminal is; until then a line a bar is shown";
        return Finding::or(WHAT, Stands::Missing, "this terminal can't move its cursor", to_do);
    }
    let colour = std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
    Finding::well(WHAT, if colour { "in colour" } else { "without colour, as NO_COLOR says" })
}

fn songs() -> Finding {
    let own = OwnSongs::of_user();
    let count = own.files().len();
    let shipped = Shipped::songs().len();
    let says = match own.folder() {
        Some(folder) => {
            format!("{shipped} that come with it, {count} of yours in {}", folder.display())
        }
        None => format!("{shipped} that come with it"),
    };
    Finding::well("songs", says)
}

/// The folder that all of the user's data goes to.
fn folder() -> Finding {
    const WHAT: &str = "data folder";
    let own = OwnSongs::of_user();
    let Some(folder) = own.folder().and_then(Path::parent) else {
        let to_do = "set HOME; marks and progress are not kept until then";
        return Finding::or(WHAT, Stands::Missing, "the system names none", to_do);
    };
    let shown = folder.display();
    // As far as it is there already: it is made when there is something to keep.
    let there =
        folder.ancestors().find(|part| part.is_dir()).map(PathBuf::from).unwrap_or_default();
    match tempfile::tempfile_in(&there) {
        Ok(_) => Finding::well(WHAT, shown.to_string()),
        Err(error) => {
            let read_only = fs::metadata(&there).is_ok_and(|about| about.permissions().readonly());
            let why =
                if read_only { "it is read-only".to_owned() } else { error.kind().to_string() };
            let to_do =
                format!("make it writable ({why}); marks and progress are not kept until then");
            Finding::or(WHAT, Stands::Wrong, format!("{shown} can't be written to"), to_do)
        }
    }
}

/// A file of the user's that is read where it is there.
fn kept(what: &'static str, wrong: Option<Failure>) -> Finding {
    match wrong {
        None => Finding::well(what, "can be read"),
        Some(failure) => Finding::or(what, Stands::Wrong, "can't be read", failure.words()),
    }
}
