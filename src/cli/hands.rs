use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded, unbounded};

use super::config::PedalFile;
use super::failure::Failure;
use crate::live::{Action, FollowSender, Follower, OutsideClock, PedalMap, listen_to_pedals};
use crate::sink::{Input, PortError, listen};
use crate::time::Tempo;

/// Presses that may wait for the desk; nobody has more feet than that in a fiftieth of a second.
const PRESSES: usize = 64;

/// How often it is seen whether an input has gone or is back.
const LOOK: Duration = Duration::from_millis(500);

/// MIDI inputs while the band plays: a pedal, an outside clock. One that goes is looked for and
/// listened to again.
pub(super) struct Hands {
    /// What the pedal asks for.
    pub actions: Receiver<Action>,
    /// What the player should hear of.
    pub notices: Receiver<String>,
    /// How the outside clock stands, if one is followed.
    pub outside: Option<OutsideClock>,
    stop: Option<Sender<()>>,
    thread: Option<thread::JoinHandle<()>>,
}

/// An input and how to have it again.
struct Place {
    what: &'static str,
    input: Option<Input>,
    listen: Box<dyn FnMut() -> Result<Input, PortError> + Send>,
}

impl Hands {
    /// Listens to what is asked for: a pedal by part of its name, and an outside clock with the end
    /// that it tells and the tempo that a start means before the first clocks have shown another.
    pub(super) fn open(
        pedal: Option<&str>,
        clock: Option<(&str, FollowSender, Tempo)>,
        epoch: Instant,
    ) -> Result<Self, Failure> {
        let (act, actions) = bounded(PRESSES);
        let mut places = Vec::new();
        if let Some(wanted) = pedal {
            let taught = PedalFile::read()?;
            if taught.map.is_empty() {
                return Err(Failure::failed(format!(
                    "--pedal {wanted}: no pedal was taught anything yet; teach it with: openchair learn pause --pedal {wanted:?}"
                )));
            }
            places.push(self::pedal(taught.map, wanted.to_owned(), epoch, act));
        }
        let mut outside = None;
        if let Some((wanted, mut sender, tempo)) = clock {
            let (follower, state) = Follower::new(tempo, move |follow| sender.send(follow));
            outside = Some(state);
            // Only one input at a time has it, so nobody ever waits for it.
            let follower = Arc::new(Mutex::new(follower));
            let wanted = wanted.to_owned();
            places.push(Place {
                what: "the outside clock's input",
                input: None,
                listen: Box::new(move || {
                    let follower = Arc::clone(&follower);
                    let (input, _) = listen(&wanted, epoch, move |at, bytes| {
                        if let Ok(mut follower) = follower.try_lock() {
                            follower.heard(at, bytes);
                        }
                    })?;
                    Ok(input)
                }),
            });
        }
        for place in &mut places {
            place.input = Some((place.listen)().map_err(Failure::failed)?);
        }
        let (note, notices) = unbounded();
        let (stop, stopped) = bounded::<()>(0);
        let thread = (!places.is_empty())
            .then(|| {
                let look = move || {
                    while stopped.recv_timeout(LOOK) == Err(RecvTimeoutError::Timeout) {
                        for place in &mut places {
                            if let Some(said) = place.look() {
                                let _ = note.send(said);
                            }
                        }
                    }
                };
                thread::Builder::new().name("openchair-inputs".to_owned()).spawn(look)
            })
            .transpose()
            .map_err(Failure::failed)?;
        Ok(Self { actions, notices, outside, stop: Some(stop), thread })
    }
}

fn pedal(map: PedalMap, wanted: String, epoch: Instant, act: Sender<Action>) -> Place {
    Place {
        what: "the pedal",
        input: None,
        listen: Box::new(move || {
            let act = act.clone();
            let (input, _) = listen_to_pedals(&map, &wanted, epoch, move |_, action| {
                let _ = act.try_send(action);
            })?;
            Ok(input)
        }),
    }
}

impl Place {
    fn look(&mut self) -> Option<String> {
        match &self.input {
            Some(input) if !input.is_lost() => None,
            Some(_) => {
                self.input = None;
                Some(format!("{} has gone, and is looked for", self.what))
            }
            None => {
                self.input = Some((self.listen)().ok()?);
                Some(format!("{} is back", self.what))
            }
        }
    }
}

impl Hands {
    /// True once the look-out for the inputs has broken off, by a panic.
    pub(super) fn has_broken_off(&self) -> bool {
        self.thread.as_ref().is_some_and(thread::JoinHandle::is_finished)
    }
}

impl Drop for Hands {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}
