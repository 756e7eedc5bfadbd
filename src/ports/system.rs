//! The system's own MIDI: ALSA, CoreMIDI or WinMM. The only file that names midir.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use midir::{Ignore, MidiInput, MidiInputConnection, MidiOutput, MidiOutputConnection};

use super::assembler::Assembler;
use super::backend::{Heard, InputPort, MidiBackend, OpenOutput, PortNames, PortWatch};
use super::{MidiSystem, PortError, Way};
use crate::perform::Message;
use crate::sink::{MidiOut, SendError, quietly};
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

/// The name of an input of ours.
const INPUT: &str = "in";

/// What this system calls its MIDI.
const SYSTEM: MidiSystem = if cfg!(target_os = "macos") {
    MidiSystem::CoreMidi
} else if cfg!(windows) {
    MidiSystem::WinMm
} else {
    MidiSystem::Alsa
};

/// The computer's own MIDI.
pub(super) struct SystemMidi;

impl MidiBackend for SystemMidi {
    fn system(&self) -> MidiSystem {
        SYSTEM
    }

    fn ports(&self) -> Result<PortNames, PortError> {
        let outputs = output_names(&output()?);
        // Where outputs can be listed, inputs can too.
        let inputs = input().map_or_else(|_| Vec::new(), |midi| input_names(&midi));
        Ok(PortNames { outputs, inputs })
    }

    fn open_output(&self, wanted: &str, _: Instant) -> Result<OpenOutput, PortError> {
        let midi = output()?;
        let ports = midi.ports();
        let (port, name) = one(Way::Output, wanted, &ports, |port| midi.port_name(port).ok())?;
        let connection = midi.connect(port, PORT).map_err(|error| PortError::WillNotOpen {
            way: Way::Output,
            port: name.clone(),
            cause: error.to_string(),
        })?;
        let gone = Arc::new(AtomicBool::new(false));
        let watch = ListWatch { name: name.clone(), gone: Arc::clone(&gone), list: None };
        let out = Box::new(SystemPort { connection, name: name.clone(), gone });
        Ok(OpenOutput { out, name, watch: Some(Box::new(watch)) })
    }

    #[cfg(unix)]
    fn open_virtual(&self, _: Instant) -> Result<Box<dyn MidiOut>, PortError> {
        use midir::os::unix::VirtualOutput;

        let name = format!("{CLIENT}:{PORT}");
        let connection =
            output()?.create_virtual(PORT).map_err(|error| PortError::WillNotOpen {
                way: Way::Output,
                port: name.clone(),
                cause: error.to_string(),
            })?;
        Ok(Box::new(SystemPort { connection, name, gone: Arc::default() }))
    }

    #[cfg(not(unix))]
    fn open_virtual(&self, _: Instant) -> Result<Box<dyn MidiOut>, PortError> {
        Err(PortError::NoVirtualPorts)
    }

    fn open_input(
        &self,
        wanted: &str,
        epoch: Instant,
        mut heard: Heard,
    ) -> Result<Box<dyn InputPort>, PortError> {
        let mut midi = input()?;
        // The timing clock too.
        midi.ignore(Ignore::None);
        let ports = midi.ports();
        let (port, name) = one(Way::Input, wanted, &ports, |port| midi.port_name(port).ok())?;
        let mut assembler = Assembler::new();
        // The library's own stamps count from different moments on different systems; the callback runs
        // as soon as a message is there.
        let callback = move |_: u64, bytes: &[u8], (): &mut ()| {
            let now = Nanos(i64::try_from(epoch.elapsed().as_nanos()).unwrap_or(i64::MAX));
            assembler.feed(bytes, |message| heard(now, message));
        };
        let connection = midi.connect(port, INPUT, callback, ()).map_err(|error| {
            PortError::WillNotOpen { way: Way::Input, port: name.clone(), cause: error.to_string() }
        })?;
        Ok(Box::new(SystemInput { _connection: connection, name }))
    }
}

fn output_names(midi: &MidiOutput) -> Vec<String> {
    midi.ports().iter().filter_map(|port| midi.port_name(port).ok()).collect()
}

fn input_names(midi: &MidiInput) -> Vec<String> {
    midi.ports().iter().filter_map(|port| midi.port_name(port).ok()).collect()
}

/// Looks for a port in the system's list of outputs.
struct ListWatch {
    name: String,
    /// Tells the open output that its port has gone.
    gone: Arc<AtomicBool>,
    /// Opened once, since opening makes a client each time.
    list: Option<MidiOutput>,
}

impl PortWatch for ListWatch {
    fn look(&mut self) -> bool {
        if self.list.is_none() {
            self.list = quietly(output).ok();
        }
        // Where the list can't be had, nobody can tell.
        let Some(list) = &self.list else { return true };
        let there = output_names(list).contains(&self.name);
        if !there {
            self.gone.store(true, Ordering::Relaxed);
        }
        there
    }
}

/// The one port that is meant by a name that was listed before.
fn one<'a, P>(
    way: Way,
    wanted: &str,
    ports: &'a [P],
    name: impl Fn(&P) -> Option<String>,
) -> Result<(&'a P, String), PortError> {
    let exact = |found: &str| found == wanted;
    let same = |found: &str| is_same(wanted, found);
    let tests: [&dyn Fn(&str) -> bool; 2] = [&exact, &same];
    for test in tests {
        let named = ports.iter().filter_map(|port| Some((port, name(port)?)));
        let mut found: Vec<(&P, String)> = named.filter(|(_, name)| test(name)).collect();
        if found.len() > 1 {
            let matches = found.into_iter().map(|(_, name)| name).collect();
            return Err(PortError::SeveralMatch { way, wanted: wanted.to_owned(), matches });
        }
        if let Some(found) = found.pop() {
            return Ok(found);
        }
    }
    Err(PortError::Gone { way, port: wanted.to_owned() })
}

/// True if a port of one name is that of the other, perhaps plugged in anew: ALSA ends each name with an
/// address, which may be another one then.
fn is_same(one: &str, other: &str) -> bool {
    match SYSTEM {
        MidiSystem::Alsa => without_address(one) == without_address(other),
        MidiSystem::CoreMidi | MidiSystem::WinMm | MidiSystem::Jack => one == other,
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

struct SystemInput {
    _connection: MidiInputConnection<()>,
    name: String,
}

impl InputPort for SystemInput {
    fn is_lost(&self) -> bool {
        // Where the list can't be had, nobody can tell.
        input().is_ok_and(|midi| !input_names(&midi).contains(&self.name))
    }
}

fn output() -> Result<MidiOutput, PortError> {
    MidiOutput::new(CLIENT).map_err(|_| no_system_midi())
}

fn input() -> Result<MidiInput, PortError> {
    MidiInput::new(CLIENT).map_err(|_| no_system_midi())
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
    /// Set when its port has gone from the list, or refused a message.
    gone: Arc<AtomicBool>,
}

impl MidiOut for SystemPort {
    fn ahead(&self) -> Nanos {
        Nanos(0)
    }

    fn send(&mut self, _due: Nanos, message: Message) -> Result<(), SendError> {
        let (bytes, length) = message.bytes();
        let bytes = bytes.get(..length).unwrap_or(&bytes);
        self.connection.send(bytes).map_err(|error| {
            self.gone.store(true, Ordering::Relaxed);
            SendError::SendFailed { port: self.name.clone(), cause: error.to_string() }
        })
    }

    fn is_lost(&self) -> bool {
        self.gone.load(Ordering::Relaxed)
    }

    fn take_back(&mut self, _from: Nanos) {}

    fn close(self: Box<Self>) {
        thread::sleep(LEAVING);
        self.connection.close();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(ports: &[&str]) -> Result<String, PortError> {
        let wanted = "Stage Piano:Stage Piano MIDI 1 20:0";
        one(Way::Output, wanted, ports, |port| Some((*port).to_owned())).map(|it| it.1)
    }

    #[test]
    fn the_same_port_is_found_again_unless_two_could_be_it() {
        let (before, anew) =
            ("Stage Piano:Stage Piano MIDI 1 20:0", "Stage Piano:Stage Piano MIDI 1 24:0");
        assert_eq!(found(&["Organ 16:0", anew, before]).unwrap(), before);
        assert_eq!(found(&["Organ 16:0", anew]).unwrap(), anew);
        assert!(matches!(found(&["Organ 20:0"]), Err(PortError::Gone { .. })));
        let other = "Stage Piano:Stage Piano MIDI 1 28:0";
        let Err(PortError::SeveralMatch { matches, .. }) = found(&[anew, other]) else {
            panic!("one of two was taken");
        };
        assert_eq!(matches, [anew, other]);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_port_plugged_in_again_is_known_by_its_name() {
        let piano = "Stage Piano:Stage Piano MIDI 1 20:0";
        assert!(is_same(piano, "Stage Piano:Stage Piano MIDI 1 24:0"), "ALSA numbers it anew");
        assert!(!is_same(piano, "Stage Piano:Stage Piano MIDI 2 20:1"));
        assert!(is_same(piano, "Stage Piano:Stage Piano MIDI 1"));
    }
}
