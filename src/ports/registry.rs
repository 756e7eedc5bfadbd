use std::time::Instant;

use super::backend::{Heard, InputPort, MidiBackend, PortNames};
use super::choice::find;
#[cfg(unix)]
use super::jack::Jack;
use super::system::SystemMidi;
use super::{MidiPort, MidiSystem, PortError, PortsList, Way};
use crate::sink::quietly;

/// The systems that there may be, the computer's own first.
pub(super) const BACKENDS: &[&dyn MidiBackend] = &[
    &SystemMidi,
    #[cfg(unix)]
    &Jack,
];

/// The system that a port is in.
///
/// # Errors
/// [`PortError::Gone`] for a port of a system that this program does not know.
pub(super) fn backend_of(way: Way, port: &MidiPort) -> Result<&'static dyn MidiBackend, PortError> {
    let backend = BACKENDS.iter().find(|backend| backend.system() == port.system);
    backend.copied().ok_or_else(|| PortError::Gone { way, port: port.name.clone() })
}

/// Lists the ports of the system's own MIDI and of a running JACK server. No JACK server is merely
/// none; none is started.
pub fn ports_list() -> PortsList {
    let mut list = PortsList::default();
    for backend in BACKENDS {
        let system = backend.system();
        let own = |names: Vec<String>| names.into_iter().map(move |name| MidiPort { name, system });
        match quietly(|| backend.ports()) {
            Ok(PortNames { outputs, inputs }) => {
                list.outputs.extend(own(outputs));
                list.inputs.extend(own(inputs));
            }
            Err(error) => list.hints.push(error.to_string()),
        }
    }
    list
}

/// The server that runs and can be played to, if there is one. None is started.
pub fn running_server() -> Option<MidiSystem> {
    let runs = |backend: &&&dyn MidiBackend| quietly(|| backend.is_running_server());
    BACKENDS.iter().find(runs).map(|backend| backend.system())
}

/// Opens the one input that is meant by `wanted`, and gives its name as listed.
pub(crate) fn open_input(
    wanted: &str,
    epoch: Instant,
    heard: Heard,
) -> Result<(Box<dyn InputPort>, String), PortError> {
    let list = ports_list();
    let found = find(Way::Input, wanted, &list.inputs, &list.hints)?;
    let backend = backend_of(Way::Input, found)?;
    let input = quietly(|| backend.open_input(&found.name, epoch, heard))?;
    Ok((input, found.to_string()))
}
