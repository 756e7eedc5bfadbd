use std::path::Path;

use crate::cli::failure::Failure;
use crate::ports::{MidiSystem, ports_list, running_server};
use crate::sink::{quietly, sound_devices};
use crate::text::list;

/// Other devices than the default one, as options to choose them by.
pub(in crate::cli) fn other_devices() -> Vec<String> {
    let devices = quietly(sound_devices);
    devices.into_iter().map(|device| format!("--device {:?}", device.name)).collect()
}

/// Why nothing can be played; `what` says what to do about it.
pub(in crate::cli) fn no_device(what: &str) -> Failure {
    let others = other_devices();
    match others.as_slice() {
        [] => Failure::failed(format!("there is no sound device and no --port: {what}")),
        others => Failure::failed(format!(
            "there is no default sound device and no --port: {what} (try {})",
            list(others, "or")
        )),
    }
}

/// With no sound device but a JACK server: what can be played to in it. A sound file of many megabytes is not
/// what its user came for.
pub(in crate::cli) fn server_instead(song: &Path) -> Option<Failure> {
    if running_server()? != MidiSystem::Jack {
        return None;
    }
    let outputs = ports_list().outputs;
    let ports: Vec<String> = outputs
        .iter()
        .filter(|port| port.system == MidiSystem::Jack)
        .map(|port| format!("--port {:?}", port.name))
        .collect();
    let song = song.display();
    let how = match ports.as_slice() {
        [] => "start a synthesizer in it and name it with --port, or add --virtual and connect one"
            .to_owned(),
        ports => format!("add {}, or --virtual and connect a synthesizer", list(ports, "or")),
    };
    Some(Failure::failed(format!(
        "there is no sound device, but a JACK server is running: {how}; for a file, `openchair export {song} -o FILE.wav`"
    )))
}
