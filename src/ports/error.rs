use std::fmt;

use thiserror::Error;

/// Which way the messages go, seen from here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// To an instrument.
    Output,
    /// From a pedal, a clock, an instrument.
    Input,
}

impl fmt::Display for Way {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Output => "output",
            Self::Input => "input",
        })
    }
}

/// Why a MIDI port can't be used. Every message says what to do next.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum PortError {
    /// No port matches the name asked for.
    #[error("no MIDI {way} has \"{wanted}\" in its name; {}", there(*way, available, hints))]
    NoMatch {
        /// What was looked for.
        way: Way,
        /// The part of a name asked for.
        wanted: String,
        /// The ports there are, as listed.
        available: Vec<String>,
        /// Why a whole MIDI system is missing, if one is.
        hints: Vec<String>,
    },
    /// More than one port matches.
    #[error(
        "\"{wanted}\" is in the names of {} MIDI {way}s; write more of the one you mean:{}",
        matches.len(),
        lines(matches)
    )]
    SeveralMatch {
        /// What was looked for.
        way: Way,
        /// The part of a name asked for.
        wanted: String,
        /// The ports that match, as listed.
        matches: Vec<String>,
    },
    /// The system's own MIDI can't be used.
    #[error("this system's MIDI is not there: {hint}")]
    NoSystemMidi {
        /// The cause as far as it can be seen, and what to do.
        hint: String,
    },
    /// This system has no ports of a program's own.
    #[error(
        "this system has no virtual ports: start a loopback MIDI driver and name its port with --port"
    )]
    NoVirtualPorts,
    /// The port was there a moment ago.
    #[error("the MIDI {way} \"{port}\" has gone: plug it in or start it, then try again")]
    Gone {
        /// What it is.
        way: Way,
        /// The port.
        port: String,
    },
    /// The port is listed but does not open.
    #[error(
        "the MIDI {way} \"{port}\" does not open ({cause}): see that it is plugged in and that no other program holds it, then try again"
    )]
    WillNotOpen {
        /// What it is.
        way: Way,
        /// The port.
        port: String,
        /// What the system says.
        cause: String,
    },
}

fn there(way: Way, available: &[String], hints: &[String]) -> String {
    let mut text = if available.is_empty() {
        match way {
            Way::Output => {
                "there is none at all: plug an instrument in or start a synthesizer, or play without \
                 --port to hear the built-in sound"
            }
            Way::Input => "there is none at all: plug the pedal, keyboard or clock in and try again",
        }
        .to_owned()
    } else {
        format!("there are:{}", lines(available))
    };
    for hint in hints {
        text.push_str("\n(");
        text.push_str(hint);
        text.push(')');
    }
    text
}

fn lines(names: &[String]) -> String {
    names.iter().map(|name| format!("\n  {name}")).collect()
}
