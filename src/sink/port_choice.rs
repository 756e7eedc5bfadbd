use std::fmt;

use serde::Serialize;

#[cfg(unix)]
use super::jack;
use super::{PortError, Way, port, quietly};

/// Whose port it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum MidiSystem {
    Alsa,
    CoreMidi,
    WinMm,
    Jack,
}

impl MidiSystem {
    /// As shown and as written in JSON.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Alsa => "alsa",
            Self::CoreMidi => "coremidi",
            Self::WinMm => "winmm",
            Self::Jack => "jack",
        }
    }
}

impl fmt::Display for MidiSystem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A MIDI port of another program or of an instrument.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct MidiPort {
    /// Its whole name.
    pub name: String,
    /// Whose it is.
    pub system: MidiSystem,
}

impl MidiPort {
    /// True if a port of the same system and of that name is this one, perhaps plugged in anew: ALSA
    /// ends each name with an address, which may be another one then.
    pub(super) fn is_same(&self, name: &str) -> bool {
        match self.system {
            MidiSystem::Alsa => without_address(&self.name) == without_address(name),
            MidiSystem::CoreMidi | MidiSystem::WinMm | MidiSystem::Jack => self.name == name,
        }
    }
}

/// "Name:Port 20:0" without its end; the whole if that is no address.
fn without_address(name: &str) -> &str {
    let is_address = |end: &str| {
        end.split_once(':').is_some_and(|(client, port)| {
            [client, port].iter().all(|it| !it.is_empty() && it.bytes().all(|b| b.is_ascii_digit()))
        })
    };
    match name.rsplit_once(' ') {
        Some((front, end)) if is_address(end) => front,
        _ => name,
    }
}

impl fmt::Display for MidiPort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.name, self.system)
    }
}

/// Every MIDI port there is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct PortsList {
    /// Where the band can play to.
    pub outputs: Vec<MidiPort>,
    /// Where playing comes from.
    pub inputs: Vec<MidiPort>,
    /// Why the system's own MIDI is missing, if it is, and what to do.
    pub hints: Vec<String>,
}

/// Where to play.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortTarget {
    /// To the port with this in its name, whatever the case; the whole name beats a part of one.
    /// With ` (jack)` after it, as listed, it tells two ports of one name apart.
    Named(String),
    /// To a port of our own, for others to connect to.
    Virtual,
}

/// Lists the ports of the system's own MIDI and of a running JACK server. No JACK server is merely
/// none; none is started.
pub fn ports_list() -> PortsList {
    quietly(|| {
        let mut list = PortsList::default();
        let own = |names: Vec<String>, system| {
            names.into_iter().map(move |name| MidiPort { name, system })
        };
        match port::outputs() {
            Ok(names) => list.outputs.extend(own(names, port::SYSTEM)),
            Err(error) => list.hints.push(error.to_string()),
        }
        // Where outputs can't be listed, inputs can't either, and for the same reason.
        list.inputs.extend(own(port::inputs().unwrap_or_default(), port::SYSTEM));
        #[cfg(unix)]
        if let Some((outputs, inputs)) = jack::ports() {
            list.outputs.extend(own(outputs, MidiSystem::Jack));
            list.inputs.extend(own(inputs, MidiSystem::Jack));
        }
        list
    })
}

/// The one port that is meant: the exact name first, then the name in any case, then a part of it.
pub(super) fn find<'a>(
    way: Way,
    wanted: &str,
    ports: &'a [MidiPort],
    hints: &[String],
) -> Result<&'a MidiPort, PortError> {
    let folded = wanted.trim().to_lowercase();
    let tests: [&dyn Fn(&MidiPort) -> bool; 3] = [
        &|port| port.name == wanted || port.to_string() == wanted,
        &|port| port.name.to_lowercase() == folded || port.to_string().to_lowercase() == folded,
        &|port| !folded.is_empty() && port.to_string().to_lowercase().contains(&folded),
    ];
    let names =
        |ports: &mut dyn Iterator<Item = &MidiPort>| ports.map(MidiPort::to_string).collect();
    for test in tests {
        let matches: Vec<&MidiPort> = ports.iter().filter(|port| test(port)).collect();
        match matches.as_slice() {
            [] => {}
            [port] => return Ok(port),
            _ => {
                let matches = names(&mut matches.into_iter());
                return Err(PortError::SeveralMatch { way, wanted: wanted.to_owned(), matches });
            }
        }
    }
    Err(PortError::NoMatch {
        way,
        wanted: wanted.to_owned(),
        available: names(&mut ports.iter()),
        hints: hints.to_vec(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ports() -> Vec<MidiPort> {
        [
            ("Midi Through:Midi Through Port-0 14:0", MidiSystem::Alsa),
            ("Stage Piano:Stage Piano MIDI 1 20:0", MidiSystem::Alsa),
            ("Stage Piano:Stage Piano MIDI 2 20:1", MidiSystem::Alsa),
            ("synth", MidiSystem::Jack),
            ("synth two", MidiSystem::Jack),
            ("twin", MidiSystem::Alsa),
            ("twin", MidiSystem::Jack),
        ]
        .map(|(name, system)| MidiPort { name: name.to_owned(), system })
        .to_vec()
    }

    fn found(wanted: &str) -> Result<String, String> {
        let ports = ports();
        find(Way::Output, wanted, &ports, &[])
            .map(ToString::to_string)
            .map_err(|error| error.to_string())
    }

    #[test]
    fn a_part_in_any_case_is_enough() {
        assert_eq!(found("through").unwrap(), "Midi Through:Midi Through Port-0 14:0 (alsa)");
        assert_eq!(found("piano midi 2").unwrap(), "Stage Piano:Stage Piano MIDI 2 20:1 (alsa)");
    }

    #[test]
    fn the_whole_name_beats_a_part() {
        assert_eq!(found("synth").unwrap(), "synth (jack)");
        assert_eq!(found("SYNTH").unwrap(), "synth (jack)");
        assert_eq!(found("twin (jack)").unwrap(), "twin (jack)");
    }

    #[test]
    fn several_are_refused_with_their_names() {
        insta::assert_snapshot!(found("stage").unwrap_err(), @r#"
        "stage" is in the names of 2 MIDI outputs; write more of the one you mean:
          Stage Piano:Stage Piano MIDI 1 20:0 (alsa)
          Stage Piano:Stage Piano MIDI 2 20:1 (alsa)
        "#);
        assert!(found("twin").unwrap_err().contains("2 MIDI outputs"));
    }

    #[test]
    fn none_says_which_there_are() {
        insta::assert_snapshot!(found("organ").unwrap_err(), @r#"
        no MIDI output has "organ" in its name; there are:
          Midi Through:Midi Through Port-0 14:0 (alsa)
          Stage Piano:Stage Piano MIDI 1 20:0 (alsa)
          Stage Piano:Stage Piano MIDI 2 20:1 (alsa)
          synth (jack)
          synth two (jack)
          twin (alsa)
          twin (jack)
        "#);
        assert!(found(" ").is_err(), "a blank name is no name");
        let none = find(Way::Output, "organ", &[], &["this system's MIDI is not there".to_owned()]);
        insta::assert_snapshot!(none.unwrap_err(), @r#"
        no MIDI output has "organ" in its name; there is none at all: plug an instrument in or start a synthesizer, or play without --port to hear the built-in sound
        (this system's MIDI is not there)
        "#);
    }

    #[test]
    fn inputs_are_called_inputs() {
        let ports = ports();
        let error = |wanted, ports| find(Way::Input, wanted, ports, &[]).unwrap_err().to_string();
        insta::assert_snapshot!(error("stage", ports.as_slice()), @r#"
        "stage" is in the names of 2 MIDI inputs; write more of the one you mean:
          Stage Piano:Stage Piano MIDI 1 20:0 (alsa)
          Stage Piano:Stage Piano MIDI 2 20:1 (alsa)
        "#);
        insta::assert_snapshot!(error("pedal", &[]), @r#"no MIDI input has "pedal" in its name; there is none at all: plug the pedal, keyboard or clock in and try again"#);
    }

    #[test]
    fn a_port_plugged_in_again_is_known_by_its_name() {
        let port = |name: &str, system| MidiPort { name: name.to_owned(), system };
        let piano = port("Stage Piano:Stage Piano MIDI 1 20:0", MidiSystem::Alsa);
        assert!(piano.is_same("Stage Piano:Stage Piano MIDI 1 24:0"), "ALSA numbers it anew");
        assert!(!piano.is_same("Stage Piano:Stage Piano MIDI 2 20:1"));
        assert!(piano.is_same("Stage Piano:Stage Piano MIDI 1"));
        let synth = port("synth 1:2", MidiSystem::Jack);
        assert!(synth.is_same("synth 1:2") && !synth.is_same("synth 1:3"));
    }

    #[test]
    fn systems_are_named_the_same_everywhere() {
        for system in [MidiSystem::Alsa, MidiSystem::CoreMidi, MidiSystem::WinMm, MidiSystem::Jack]
        {
            assert_eq!(serde_json::to_string(&system).unwrap(), format!("\"{system}\""));
        }
    }
}
