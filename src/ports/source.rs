use std::time::Instant;

use super::backend::{MidiBackend, OpenOutput, PortWatch};
use super::choice::find;
use super::registry::{BACKENDS, backend_of};
use super::{MidiPort, PortError, PortTarget, Way, ports_list};
use crate::sink::{MidiOut, quietly};

/// What the player wrote, and the ports that it could have meant and did not.
struct Meant {
    wanted: String,
    others: Vec<MidiPort>,
}

impl Meant {
    /// The one port that is meant now that the one before has gone: a program may bear another number
    /// in its name each time that it is started. A port that was there all along is not taken for it.
    fn again(&self, outputs: &[MidiPort]) -> Result<MidiPort, PortError> {
        let new = |port: &&MidiPort| !self.others.contains(port);
        let new: Vec<MidiPort> = outputs.iter().filter(new).cloned().collect();
        find(Way::Output, &self.wanted, &new, &[]).cloned()
    }
}

/// An output that can be opened again once it was lost.
pub struct PortSource {
    which: Which,
    name: String,
    epoch: Instant,
    /// Looks after the output that was opened last.
    watch: Option<Box<dyn PortWatch>>,
}

enum Which {
    Theirs(MidiPort, Meant),
    /// A port of our own.
    Ours(&'static dyn MidiBackend),
}

impl PortSource {
    /// Chooses a port and opens it. `epoch` is the moment that due times count from.
    ///
    /// # Errors
    /// No such port, more than one of that name, or the one found does not open.
    pub fn open(
        target: &PortTarget,
        epoch: Instant,
    ) -> Result<(Self, Box<dyn MidiOut>), PortError> {
        match target {
            PortTarget::Named(wanted) => Self::open_theirs(wanted, epoch),
            PortTarget::Virtual => Self::open_ours(epoch),
        }
    }

    fn open_theirs(wanted: &str, epoch: Instant) -> Result<(Self, Box<dyn MidiOut>), PortError> {
        let list = ports_list();
        let found = find(Way::Output, wanted, &list.outputs, &list.hints)?;
        let others = list.outputs.iter().filter(|port| *port != found).cloned().collect();
        let meant = Meant { wanted: wanted.to_owned(), others };
        Self::first(Which::Theirs(found.clone(), meant), found.to_string(), epoch)
    }

    /// In the first system that is there, or else what the very first says: each waits for others to connect.
    fn open_ours(epoch: Instant) -> Result<(Self, Box<dyn MidiOut>), PortError> {
        let mut missing = None;
        for &backend in BACKENDS {
            let name = format!("openchair:band ({})", backend.system());
            match (Self::first(Which::Ours(backend), name, epoch), &missing) {
                (Err(error @ PortError::NoSystemMidi { .. }), None) => missing = Some(error),
                // Whatever the next says, the player's own system is what should be mended.
                (Err(_), Some(_)) => {}
                (result, _) => return result,
            }
        }
        Err(missing.unwrap_or(PortError::NoVirtualPorts))
    }

    fn first(
        which: Which,
        name: String,
        epoch: Instant,
    ) -> Result<(Self, Box<dyn MidiOut>), PortError> {
        let mut source = Self { which, name, epoch, watch: None };
        let out = source.open_again()?;
        Ok((source, out))
    }

    /// Its name as listed.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Opens the same port anew; the output given before should have been closed. Where there is none
    /// of its name, it is the one new port that what the player wrote fits.
    ///
    /// # Errors
    /// [`PortError::Gone`] if it is not there, [`PortError::SeveralMatch`] if more than one can be
    /// meant by now, or why it does not open.
    pub fn open_again(&mut self) -> Result<Box<dyn MidiOut>, PortError> {
        let gone = match self.open_same() {
            Err(gone @ PortError::Gone { .. }) => gone,
            result => return result,
        };
        let Which::Theirs(port, meant) = &mut self.which else { return Err(gone) };
        *port = match meant.again(&ports_list().outputs) {
            Err(PortError::NoMatch { .. }) => return Err(gone),
            found => found?,
        };
        self.name = port.to_string();
        self.open_same()
    }

    fn open_same(&mut self) -> Result<Box<dyn MidiOut>, PortError> {
        // The output before is no longer looked after.
        self.watch = None;
        match &mut self.which {
            Which::Ours(backend) => quietly(|| backend.open_virtual(self.epoch)),
            Which::Theirs(port, _) => {
                let backend = backend_of(Way::Output, port)?;
                let opened = quietly(|| backend.open_output(&port.name, self.epoch))?;
                let OpenOutput { out, name, watch } = opened;
                port.name = name;
                self.name = port.to_string();
                self.watch = watch;
                Ok(out)
            }
        }
    }

    /// Looks whether the port is still there; if not, the output that was opened last is lost from
    /// now on. For a thread that may wait: the system's list of ports may be asked.
    pub fn look(&mut self) -> bool {
        self.watch.as_mut().is_none_or(|watch| watch.look())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ports::MidiSystem;

    fn port(name: &str) -> MidiPort {
        MidiPort { name: name.to_owned(), system: MidiSystem::Jack }
    }

    #[test]
    fn a_port_with_another_number_is_the_one_meant() {
        let others = vec![port("attic fluid:in"), port("Organ (77):in")];
        let meant = Meant { wanted: "fluid".to_owned(), others: others.clone() };
        let with = |names: &[&str]| {
            let mut all = others.clone();
            all.extend(names.iter().map(|name| port(name)));
            meant.again(&all)
        };
        assert_eq!(with(&["FLUID Synth (102):in"]), Ok(port("FLUID Synth (102):in")));
        // What was there all along was not meant then and is not now.
        assert!(matches!(with(&[]), Err(PortError::NoMatch { .. })));
        assert!(matches!(with(&["piano:in"]), Err(PortError::NoMatch { .. })));
        let two = with(&["FLUID Synth (102):in", "FLUID Synth (103):in"]);
        assert!(matches!(two, Err(PortError::SeveralMatch { .. })));
    }
}
