use super::{MidiPort, PortError, Way};

/// The one port that is meant: the exact name first, then the name in any case, then whose port it is (what stands
/// before the colon), then a part of it.
pub(super) fn find<'a>(
    way: Way,
    wanted: &str,
    ports: &'a [MidiPort],
    hints: &[String],
) -> Result<&'a MidiPort, PortError> {
    let folded = wanted.trim().to_lowercase();
    let tests: [&dyn Fn(&MidiPort) -> bool; 4] = [
        &|port| port.name == wanted || port.to_string() == wanted,
        &|port| port.name.to_lowercase() == folded || port.to_string().to_lowercase() == folded,
        &|port| {
            let owner = port.name.split_once(':').map(|(owner, _)| owner.to_lowercase());
            owner.is_some_and(|owner| owner == folded)
        },
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
    use crate::ports::MidiSystem;

    fn ports() -> Vec<MidiPort> {
        [
            ("Midi Through:Midi Through Port-0 14:0", MidiSystem::Alsa),
            ("Stage Piano:Stage Piano MIDI 1 20:0", MidiSystem::Alsa),
            ("Stage Piano:Stage Piano MIDI 2 20:1", MidiSystem::Alsa),
            ("synth", MidiSystem::Jack),
            ("synth two", MidiSystem::Jack),
            ("twin", MidiSystem::Alsa),
            ("twin", MidiSystem::Jack),
            ("attic:in", MidiSystem::Jack),
            ("attic2:in", MidiSystem::Jack),
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
    fn whose_port_it_is_beats_a_part() {
        assert_eq!(found("attic").unwrap(), "attic:in (jack)");
        assert_eq!(found("Attic2").unwrap(), "attic2:in (jack)");
        assert!(found("atti").unwrap_err().contains("2 MIDI outputs"));
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
          attic:in (jack)
          attic2:in (jack)
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
}
