use std::fmt::Write;
use std::process::ExitCode;

use serde::Serialize;

use super::failure::{Failure, tell};
use super::files::say_to_stdout;
use crate::ports::{MidiPort, ports_list};
use crate::sink::{self, SoundDevice};

#[derive(Debug, clap::Args)]
pub(super) struct Ports {
    /// Give the lists as JSON
    #[arg(long)]
    pub json: bool,
}

/// All that a band can be heard through, and a player.
#[derive(Debug, Serialize)]
struct Listing {
    midi_outputs: Vec<MidiPort>,
    midi_inputs: Vec<MidiPort>,
    sound_devices: Vec<SoundDevice>,
    microphones: Vec<SoundDevice>,
}

/// Lists MIDI outputs and inputs, sound devices and microphones.
pub(super) fn run(ports: &Ports) -> Result<ExitCode, Failure> {
    let midi = ports_list();
    let sound_devices = sink::quietly(sink::sound_devices);
    let microphones = sink::quietly(sink::microphones);
    // Advice is for those who have nothing to play to.
    for hint in midi.hints.iter().filter(|_| midi.outputs.is_empty()) {
        tell(hint);
    }
    let (midi_outputs, midi_inputs) = (midi.outputs, midi.inputs);
    let listing = Listing { midi_outputs, midi_inputs, sound_devices, microphones };
    let text = if ports.json {
        serde_json::to_string_pretty(&listing).map_err(Failure::failed)? + "\n"
    } else {
        plain(&listing)
    };
    say_to_stdout(&text)?;
    Ok(ExitCode::SUCCESS)
}

fn plain(listing: &Listing) -> String {
    let mut out = String::new();
    let mut group = |title: &str, items: Vec<String>| {
        let _ = writeln!(out, "{title}");
        for item in &items {
            let _ = writeln!(out, "  {item}");
        }
        if items.is_empty() {
            let _ = writeln!(out, "  none");
        }
    };
    group("MIDI outputs", listing.midi_outputs.iter().map(ToString::to_string).collect());
    group("MIDI inputs", listing.midi_inputs.iter().map(ToString::to_string).collect());
    let device = |device: &SoundDevice| {
        let default = if device.default { " (default)" } else { "" };
        format!("{}{default}", device.name)
    };
    group("Sound devices", listing.sound_devices.iter().map(device).collect());
    group("Microphones", listing.microphones.iter().map(device).collect());
    out
}
