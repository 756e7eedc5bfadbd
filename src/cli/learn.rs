//! Teaching pedals.

use std::fmt::Write;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, RecvTimeoutError, bounded};

use super::failure::{Failure, tell};
use super::files::{PedalFile, say_to_stdout};
use super::interrupt::interruptible;
use crate::input::{Input, listen};
use crate::live::{Action, BINDINGS, Presses, Trigger, forget_in, teach_in};
use crate::ports::ports_list;
use crate::text::{list, nearest};

/// How often it is looked whether the player has given up.
const LOOK: Duration = Duration::from_millis(50);

/// How often, in looks, it is asked whether the pedal is still there.
const LOOKS_A_QUESTION: u32 = 20;

#[derive(Debug, clap::Args)]
pub(super) struct Learn {
    /// What the pedal is to do: pause, count-in, section-back …; without it, all of them are listed
    pub action: Option<String>,
    /// Listen only to the MIDI input with this in its name
    #[arg(long, value_name = "NAME", requires = "action")]
    pub pedal: Option<String>,
    /// Forget which pedal does this
    #[arg(long, value_name = "ACTION", conflicts_with_all = ["action", "pedal"])]
    pub forget: Option<String>,
}

/// Shows what is taught, teaches, or forgets.
pub(super) fn run(learn: &Learn) -> Result<ExitCode, Failure> {
    let done = match (&learn.action, &learn.forget) {
        (_, Some(word)) => forget(action(word)?)?,
        (Some(word), None) => teach(action(word)?, learn.pedal.as_deref())?,
        (None, None) => all()?,
    };
    say_to_stdout(&done)?;
    Ok(ExitCode::SUCCESS)
}

/// # Errors
/// There is no such action.
fn action(word: &str) -> Result<Action, Failure> {
    let lower = word.trim().to_lowercase();
    Action::parse(&lower).ok_or_else(|| {
        let help = match nearest(&lower, BINDINGS.iter().map(|binding| binding.word)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "`openchair learn` lists them".to_owned(),
        };
        Failure::Usage(format!("there is no action `{word}`; {help}"))
    })
}

/// Every action, and what it is taught by.
fn all() -> Result<String, Failure> {
    let file = PedalFile::read()?;
    let mut out = String::new();
    for binding in BINDINGS {
        let _ = writeln!(out, "{:<22}{}", binding.word, binding.says);
        for trigger in file.map.triggers(binding.action) {
            let _ = writeln!(out, "{:<22}taught: {trigger}", "");
        }
    }
    tell(format_args!(
        "to teach a pedal: openchair learn ACTION, then press it; what is taught stands in {}",
        file.path.display()
    ));
    Ok(out)
}

fn forget(action: Action) -> Result<String, Failure> {
    let file = PedalFile::read()?;
    let word = action.word();
    let triggers: Vec<String> = file.map.triggers(action).map(|it| it.to_string()).collect();
    if triggers.is_empty() {
        return Err(Failure::failed(format!("no pedal is taught to do `{word}`")));
    }
    file.write(&forget_in(&file.text, action).map_err(Failure::failed)?)?;
    let triggers: Vec<&str> = triggers.iter().map(String::as_str).collect();
    Ok(format!(
        "{word} is no longer taught by {} ({})\n",
        list(&triggers, "and"),
        file.path.display()
    ))
}

fn teach(action: Action, pedal: Option<&str>) -> Result<String, Failure> {
    // Before the player presses anything: a file that is wrong is not written to.
    PedalFile::read()?;
    let (inputs, names, presses) = open(pedal)?;
    let (control, caught) = interruptible()?;
    let word = action.word();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    tell(format_args!(
        "press the pedal for `{word}` (listening to {}; Ctrl-C leaves)",
        list(&names, "and")
    ));
    let mut looks = 0;
    let trigger = loop {
        match presses.recv_timeout(LOOK) {
            Ok(trigger) => break trigger,
            _ if control.is_stopping() => {
                return Err(Failure::failed("nothing was taught").by_signal(&caught));
            }
            Err(RecvTimeoutError::Timeout) => looks += 1,
            Err(RecvTimeoutError::Disconnected) => looks = LOOKS_A_QUESTION,
        }
        if looks % LOOKS_A_QUESTION == 0 && inputs.iter().all(Input::is_lost) {
            return Err(Failure::failed(format!(
                "{} went away; nothing was taught",
                list(&names, "and")
            )));
        }
    };
    drop(inputs);
    // Read again: the player may have been long about it.
    let file = PedalFile::read()?;
    let before = file.map.action(trigger);
    if before != Some(action) {
        file.write(&teach_in(&file.text, trigger, action).map_err(Failure::failed)?)?;
    }
    let path = file.path.display();
    Ok(match before {
        Some(old) if old == action => format!("{trigger} does `{word}` already ({path})\n"),
        Some(old) => {
            format!("{trigger} does `{word}` from now on, no longer `{}` ({path})\n", old.word())
        }
        None => format!("{trigger} does `{word}` from now on ({path})\n"),
    })
}

/// The inputs to listen to, their names, and what is pressed on any of them.
type Open = (Vec<Input>, Vec<String>, Receiver<Trigger>);

/// Opens the input of that name, or all that there are.
fn open(pedal: Option<&str>) -> Result<Open, Failure> {
    let wanted = match pedal {
        Some(name) => vec![name.to_owned()],
        None => {
            let ports = ports_list();
            if ports.inputs.is_empty() {
                let hints: String = ports.hints.iter().map(|hint| format!("\n({hint})")).collect();
                return Err(Failure::failed(format!(
                    "there is no MIDI input: plug the pedal in, and see that `openchair ports` lists \
                     it{hints}"
                )));
            }
            ports.inputs.iter().map(ToString::to_string).collect()
        }
    };
    // More presses than a foot makes before they are taken.
    let (to, presses) = bounded(64);
    let epoch = Instant::now();
    let (mut inputs, mut names, mut failed) = (Vec::new(), Vec::new(), None);
    for wanted in wanted {
        let (to, mut ear) = (to.clone(), Presses::new());
        let opened = listen(&wanted, epoch, move |_, bytes| {
            if let Some(trigger) = ear.heard(bytes) {
                // One is enough.
                let _ = to.try_send(trigger);
            }
        });
        match opened {
            Ok((input, name)) => {
                inputs.push(input);
                names.push(name);
            }
            Err(error) => failed = Some(error),
        }
    }
    match failed {
        Some(error) if inputs.is_empty() => Err(Failure::failed(error)),
        _ => Ok((inputs, names, presses)),
    }
}
