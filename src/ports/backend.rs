use std::time::Instant;

use super::{MidiSystem, PortError};
use crate::sink::MidiOut;
use crate::time::Nanos;

/// A system that MIDI ports are in: the computer's own, or a server. Its calls may wait, and its library may
/// write to standard error.
pub(super) trait MidiBackend: Sync {
    /// Which it is.
    fn system(&self) -> MidiSystem;

    /// The ports of others. A server that does not run has none.
    ///
    /// # Errors
    /// The system can't be used, and what to do.
    fn ports(&self) -> Result<PortNames, PortError>;

    /// True for a server that runs, whether anything is connected to it or not.
    fn is_running_server(&self) -> bool {
        false
    }

    /// Opens the output of that name, or the one that is it by now. Due times count from `epoch`.
    ///
    /// # Errors
    /// [`PortError::Gone`], [`PortError::SeveralMatch`], or why it does not open.
    fn open_output(&self, name: &str, epoch: Instant) -> Result<OpenOutput, PortError>;

    /// Opens a port of our own that others connect to.
    ///
    /// # Errors
    /// [`PortError::NoSystemMidi`] where another system may do, [`PortError::NoVirtualPorts`], or why it does
    /// not open.
    fn open_virtual(&self, epoch: Instant) -> Result<Box<dyn MidiOut>, PortError>;

    /// Listens to the input of that name. Times count from `epoch`.
    ///
    /// # Errors
    /// As with [`Self::open_output`].
    fn open_input(
        &self,
        name: &str,
        epoch: Instant,
        heard: Heard,
    ) -> Result<Box<dyn InputPort>, PortError>;
}

/// The names of a system's ports.
#[derive(Debug, Default)]
pub(super) struct PortNames {
    /// Of those that can be played to.
    pub outputs: Vec<String>,
    /// Of those that play.
    pub inputs: Vec<String>,
}

/// An output that was opened.
pub(super) struct OpenOutput {
    pub out: Box<dyn MidiOut>,
    /// What its port is called by now.
    pub name: String,
    /// What sees whether the port is there, where the output does not see it by itself.
    pub watch: Option<Box<dyn PortWatch>>,
}

/// Looks after the port of an open output.
pub(super) trait PortWatch: Send {
    /// Whether the port is still there; if not, the output is lost from now on. May wait.
    fn look(&mut self) -> bool;
}

/// An input that is listened to until it is dropped.
pub(crate) trait InputPort: Send {
    /// True once its port has gone. May wait.
    fn is_lost(&self) -> bool;
}

/// Gets every message, whole and with its status byte, and when it came. It is called on a thread that must
/// not wait.
pub(crate) type Heard = Box<dyn FnMut(Nanos, &[u8]) + Send>;
