use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

#[cfg(unix)]
use super::jack;
use super::port_choice::find;
use super::{MidiOut, MidiPort, MidiSystem, PortError, PortTarget, Way, port, ports_list, quietly};

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
    /// Tells the open output that its port has gone from the list.
    gone: Arc<AtomicBool>,
    list: Option<port::OutputList>,
}

enum Which {
    Theirs(MidiPort, Meant),
    /// A port of our own, of the system's MIDI or else of JACK.
    Ours(MidiSystem),
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
        let source = |which, name| {
            let gone = Arc::new(AtomicBool::new(false));
            Self { which, name, epoch, gone, list: None }
        };
        match target {
            PortTarget::Named(wanted) => {
                let list = ports_list();
                let found = find(Way::Output, wanted, &list.outputs, &list.hints)?;
                let others = list.outputs.iter().filter(|port| *port != found).cloned().collect();
                let meant = Meant { wanted: wanted.clone(), others };
                let mut source = source(Which::Theirs(found.clone(), meant), found.to_string());
                let out = source.open_again()?;
                Ok((source, out))
            }
            PortTarget::Virtual => {
                let ours =
                    |system| source(Which::Ours(system), format!("openchair:band ({system})"));
                // The system's own kind of port if it has one, or else JACK's: both wait for others
                // to connect.
                match ours(port::SYSTEM).with_output() {
                    #[cfg(unix)]
                    Err(error @ PortError::NoSystemMidi { .. }) => {
                        ours(MidiSystem::Jack).with_output().map_err(|_| error)
                    }
                    result => result,
                }
            }
        }
    }

    fn with_output(mut self) -> Result<(Self, Box<dyn MidiOut>), PortError> {
        let out = self.open_again()?;
        Ok((self, out))
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
        self.gone = Arc::new(AtomicBool::new(false));
        let gone = Arc::clone(&self.gone);
        let opened = quietly(|| match &self.which {
            #[cfg(unix)]
            Which::Theirs(port, _) if port.system == MidiSystem::Jack => {
                jack::open(Some(&port.name), self.epoch).map(|out| (out, None))
            }
            #[cfg(unix)]
            Which::Ours(MidiSystem::Jack) => jack::open(None, self.epoch).map(|out| (out, None)),
            Which::Theirs(port, _) => port::open(port, gone).map(|(out, name)| (out, Some(name))),
            Which::Ours(_) => port::open_virtual(gone).map(|out| (out, None)),
        });
        let (out, name) = opened?;
        if let (Which::Theirs(port, _), Some(name)) = (&mut self.which, name) {
            port.name = name;
            self.name = port.to_string();
        }
        Ok(out)
    }

    /// Looks whether the port is still there; if not, the output that was opened last is lost from
    /// now on. For a thread that may wait: the system's list of ports is asked. JACK tells by itself
    /// when a port goes, so there is nothing to look for.
    pub fn look(&mut self) -> bool {
        let Which::Theirs(port, _) = &self.which else { return true };
        if port.system == MidiSystem::Jack {
            return true;
        }
        if self.list.is_none() {
            self.list = quietly(port::OutputList::new).ok();
        }
        let Some(list) = &self.list else { return true };
        let there = list.names().contains(&port.name);
        if !there {
            self.gone.store(true, Ordering::Relaxed);
        }
        there
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
