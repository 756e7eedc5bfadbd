//! The system's own MIDI: ALSA, CoreMIDI or WinMM. The only file that names midir.

use std::thread;
use std::time::Duration;

use midir::{MidiInput, MidiOutput, MidiOutputConnection};

use super::{MidiOut, MidiSystem, PortError};
use crate::perform::Message;
use crate::time::Nanos;

/// The name that other programs see.
const CLIENT: &str = "openchair";

/// The name of the port under it.
const PORT: &str = "band";

/// How long the last messages get to leave before the port closes. Closing at once loses them: a
/// MIDI cable carries about one message a millisecond (31,250 bits a second, MIDI 1.0 Detailed
/// Specification), so 20 strings damped together take 20 ms, and a receiver that reads once a period
/// of 4,096 frames at 44.1 kHz sees them up to 93 ms later.
const LEAVING: Duration = Duration::from_millis(150);

/// What this system calls its MIDI.
pub(super) const SYSTEM: MidiSystem = if cfg!(target_os = "macos") {
    MidiSystem::CoreMidi
} else if cfg!(windows) {
    MidiSystem::WinMm
} else {
    MidiSystem::Alsa
};

/// Every output's name.
pub(super) fn outputs() -> Result<Vec<String>, PortError> {
    let midi = output()?;
    Ok(midi.ports().iter().filter_map(|port| midi.port_name(port).ok()).collect())
}

/// Every input's name.
pub(super) fn inputs() -> Result<Vec<String>, PortError> {
    let midi = MidiInput::new(CLIENT).map_err(|_| no_system_midi())?;
    Ok(midi.ports().iter().filter_map(|port| midi.port_name(port).ok()).collect())
}

/// Opens the output of exactly that name.
pub(super) fn open(name: &str) -> Result<Box<dyn MidiOut>, PortError> {
    let midi = output()?;
    let will_not = |cause: String| PortError::WillNotOpen { port: name.to_owned(), cause };
    let ports = midi.ports();
    let port = ports
        .iter()
        .find(|port| midi.port_name(port).is_ok_and(|found| found == name))
        .ok_or_else(|| will_not("it was unplugged just now".to_owned()))?;
    let connection = midi.connect(port, PORT).map_err(|error| will_not(error.to_string()))?;
    Ok(Box::new(SystemPort { connection, name: name.to_owned() }))
}

/// Opens a port of our own that other programs connect to.
#[cfg(unix)]
pub(super) fn open_virtual() -> Result<Box<dyn MidiOut>, PortError> {
    use midir::os::unix::VirtualOutput;

    let name = format!("{CLIENT}:{PORT}");
    let connection = output()?
        .create_virtual(PORT)
        .map_err(|error| PortError::WillNotOpen { port: name.clone(), cause: error.to_string() })?;
    Ok(Box::new(SystemPort { connection, name }))
}

/// Opens a port of our own that other programs connect to: not on this system.
#[cfg(not(unix))]
pub(super) fn open_virtual() -> Result<Box<dyn MidiOut>, PortError> {
    Err(PortError::NoVirtualPorts)
}

fn output() -> Result<MidiOutput, PortError> {
    MidiOutput::new(CLIENT).map_err(|_| no_system_midi())
}

/// The library names no cause, so look for the usual one.
fn no_system_midi() -> PortError {
    let hint = if !cfg!(target_os = "linux") {
        "it could not be started; restart the computer's MIDI service, or use the built-in sound"
    } else if std::path::Path::new("/dev/snd/seq").exists() {
        "/dev/snd/seq may not be opened; add yourself to the group it belongs to (often \"audio\") \
         and log in again"
    } else {
        "there is no /dev/snd/seq; load the kernel's MIDI sequencer with: sudo modprobe snd-seq"
    };
    PortError::NoSystemMidi { hint: hint.to_owned() }
}

/// Sends each message the moment it gets it.
struct SystemPort {
    connection: MidiOutputConnection,
    name: String,
}

impl MidiOut for SystemPort {
    fn ahead(&self) -> Nanos {
        Nanos(0)
    }

    fn send(&mut self, _due: Nanos, message: Message) -> Result<(), PortError> {
        let (bytes, length) = message.bytes();
        let bytes = bytes.get(..length).unwrap_or(&bytes);
        self.connection.send(bytes).map_err(|error| PortError::SendFailed {
            port: self.name.clone(),
            cause: error.to_string(),
        })
    }

    fn take_back(&mut self, _from: Nanos) {}

    fn close(self: Box<Self>) {
        thread::sleep(LEAVING);
        self.connection.close();
    }
}
