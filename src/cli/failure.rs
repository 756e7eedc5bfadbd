use std::fmt::Display;
use std::io::{self, IsTerminal};
use std::process::ExitCode;

use super::terminal::shown;
use crate::live::Caught;
use crate::sink::aloud;
use crate::text::{Problems, Source, report, summary};

/// Why a command ends without having done its work.
#[derive(Debug)]
pub(super) enum Failure {
    /// The command line asks for what cannot be: exit status 2.
    Usage(String),
    /// It could not be done: exit status 1.
    Failed(String),
    /// A signal stopped it: the exit status that scripts expect then.
    Stopped(String, u8),
    /// A file is wrong: exit status 1.
    Wrong(Box<Source>, Problems),
}

impl Failure {
    /// The command line asks for what cannot be.
    pub(super) fn usage(why: impl Display) -> Self {
        Self::Usage(why.to_string())
    }

    /// Something could not be done.
    pub(super) fn failed(why: impl Display) -> Self {
        Self::Failed(why.to_string())
    }

    /// The same, but stopped by a signal if one was caught.
    pub(super) fn by_signal(self, caught: &Caught) -> Self {
        match (self, caught.exit_status()) {
            (Self::Failed(why), Some(status)) => Self::Stopped(why, status),
            (other, _) => other,
        }
    }

    /// What it says, in a line where it can.
    pub(super) fn words(&self) -> String {
        match self {
            Self::Usage(why) | Self::Failed(why) | Self::Stopped(why, _) => why.clone(),
            Self::Wrong(source, problems) => report(source, problems, false).trim_end().to_owned(),
        }
    }

    /// Says why on standard error.
    pub(super) fn show(self) -> ExitCode {
        let text = match &self {
            Self::Usage(why) | Self::Failed(why) | Self::Stopped(why, _) => {
                format!("openchair: {}\n", shown(why, &io::stderr()))
            }
            Self::Wrong(source, problems) => {
                let text = report(source, problems, coloured(&io::stderr()));
                format!("{text}openchair: {}\n", summary(problems.in_order().len(), 1))
            }
        };
        // Nobody is left to tell if standard error itself is gone.
        let _ = aloud(&text);
        ExitCode::from(match self {
            Self::Failed(_) | Self::Wrong(..) => 1,
            Self::Usage(_) => 2,
            Self::Stopped(_, status) => status,
        })
    }
}

/// True where colour is welcome: at a terminal, unless the user has said no (no-color.org).
pub(super) fn coloured(stream: &impl IsTerminal) -> bool {
    stream.is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
}

/// Says something on standard error that is no failure.
pub(super) fn tell(what: impl Display) {
    // Nobody is left to tell if standard error itself is gone.
    let what = what.to_string();
    let _ = aloud(&format!("openchair: {}\n", shown(&what, &io::stderr())));
}
