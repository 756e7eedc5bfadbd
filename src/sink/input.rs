use std::time::Instant;

#[cfg(unix)]
use super::jack;
use super::port_choice::find;
use super::{MidiSystem, PortError, Way, port, ports_list, quietly};
use crate::time::Nanos;

/// What stands behind an [`Input`].
pub(super) trait InputPort: Send {
    fn is_lost(&self) -> bool;
}

/// A MIDI input that is listened to. Dropped, it closes.
pub struct Input(Box<dyn InputPort>);

impl Input {
    /// True once the port it came from has gone. May ask the system for its list of ports, so it is
    /// for a thread that can wait, some times a second at most.
    pub fn is_lost(&self) -> bool {
        quietly(|| self.0.is_lost())
    }
}

/// Listens to the MIDI input with `wanted` in its name, whatever the case; the whole name beats a
/// part of one, and ` (jack)` after it, as listed, tells two ports of one name apart.
///
/// `heard` gets every message, whole and with its status byte, and when it came: to the frame from
/// JACK, and from the system's own MIDI when it was handed over. It is called on a thread that must
/// not wait: it should allocate nothing and take no lock. Gives the input and its name.
///
/// # Errors
/// No such port, more than one of that name, or the one found does not open.
pub fn listen(
    wanted: &str,
    epoch: Instant,
    heard: impl FnMut(Nanos, &[u8]) + Send + 'static,
) -> Result<(Input, String), PortError> {
    let list = ports_list();
    let found = find(Way::Input, wanted, &list.inputs, &list.hints)?;
    let input = quietly(|| match found.system {
        #[cfg(unix)]
        MidiSystem::Jack => jack::listen(&found.name, epoch, heard),
        _ => port::listen(found, epoch, heard),
    })?;
    Ok((Input(input), found.to_string()))
}
