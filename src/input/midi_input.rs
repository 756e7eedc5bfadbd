use std::time::Instant;

use crate::ports::{InputPort, PortError, open_input};
use crate::sink::quietly;
use crate::time::Nanos;

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
    let (input, name) = open_input(wanted, epoch, Box::new(heard))?;
    Ok((Input(input), name))
}
