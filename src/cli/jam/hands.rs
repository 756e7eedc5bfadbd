use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded, unbounded};

use crate::cli::failure::Failure;
use crate::cli::files::PedalFile;
use crate::input::{Input, listen};
use crate::live::{
    Action, Ear, Follow, FollowSender, Follower, OutsideClock, PedalMap, listen_to_pedals,
};
use crate::ports::PortError;
use crate::time::Tempo;

/// Presses that may wait for the desk; nobody has more feet than that in a fiftieth of a second.
const PRESSES: usize = 64;

/// How often it is seen whether an input has gone or is back.
const LOOK: Duration = Duration::from_millis(500);

/// MIDI inputs while the band plays: a pedal, an outside clock, the player's instrument. One that goes is looked for and
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
struct KeptInput {
    what: &'static str,
    /// The input's whole name.
    name: String,
    input: Option<Input>,
    listen: Box<dyn FnMut() -> Result<(Input, String), PortError> + Send>,
}

impl Hands {
    /// Listens to what is asked for: a pedal by part of its name, and an outside clock with the end
    /// that it tells and the tempo that a start means before the first clocks have shown another, and the
    /// player's instrument with the ear that hears it.
    pub(super) fn open(
        pedal: Option<&str>,
        clock: Option<(&str, FollowSender, Tempo)>,
        instrument: Option<(&str, Ear)>,
        epoch: Instant,
    ) -> Result<Self, Failure> {
        let (act, actions) = bounded(PRESSES);
        let mut places = Vec::new();
        let mut taught = None;
        if let Some(wanted) = pedal {
            let map = PedalFile::read()?.map;
            if map.is_empty() {
                return Err(Failure::failed(format!(
                    "--pedal {wanted}: no pedal was taught anything yet; teach it with: openchair learn pause --pedal {wanted:?}"
                )));
            }
            let place = self::pedal(map.clone(), wanted.to_owned(), epoch, act).opened()?;
            taught = Some((map, place.name.clone()));
            places.push(place);
        }
        let mut outside = None;
        if let Some((wanted, mut sender, tempo)) = clock {
            let (follower, state) = Follower::new(tempo, move |follow| sender.send(follow));
            outside = Some(state);
            places.push(self::clock(follower, wanted.to_owned(), epoch).opened()?);
        }
        if let Some((wanted, ear)) = instrument {
            let ear = Arc::new(Mutex::new(ear));
            let place = self::instrument(Arc::clone(&ear), wanted.to_owned(), epoch).opened()?;
            // A pedal on the instrument itself says what to do, and plays nothing.
            if let Some((map, at)) = taught
                && at == place.name
                && let Ok(mut ear) = ear.lock()
            {
                ear.leave_out(map);
            }
            places.push(place);
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

fn pedal(map: PedalMap, wanted: String, epoch: Instant, act: Sender<Action>) -> KeptInput {
    KeptInput::new("the pedal", move || {
        let act = act.clone();
        listen_to_pedals(&map, &wanted, epoch, move |_, action| {
            let _ = act.try_send(action);
        })
    })
}

fn clock<S>(follower: Follower<S>, wanted: String, epoch: Instant) -> KeptInput
where
    S: FnMut(Follow) -> bool + Send + 'static,
{
    // Only one input at a time has it, so nobody ever waits for it.
    let follower = Arc::new(Mutex::new(follower));
    KeptInput::new("the outside clock's input", move || {
        let follower = Arc::clone(&follower);
        listen(&wanted, epoch, move |at, bytes| {
            if let Ok(mut follower) = follower.try_lock() {
                follower.heard(at, bytes);
            }
        })
    })
}

fn instrument(ear: Arc<Mutex<Ear>>, wanted: String, epoch: Instant) -> KeptInput {
    KeptInput::new("your instrument", move || {
        let ear = Arc::clone(&ear);
        listen(&wanted, epoch, move |at, bytes| {
            if let Ok(mut ear) = ear.try_lock() {
                ear.hear(at, bytes);
            }
        })
    })
}

impl KeptInput {
    fn new(
        what: &'static str,
        listen: impl FnMut() -> Result<(Input, String), PortError> + Send + 'static,
    ) -> Self {
        Self { what, name: String::new(), input: None, listen: Box::new(listen) }
    }

    /// Listened to for the first time, which must not fail.
    fn opened(mut self) -> Result<Self, Failure> {
        let (input, name) = (self.listen)().map_err(Failure::failed)?;
        (self.input, self.name) = (Some(input), name);
        Ok(self)
    }

    fn look(&mut self) -> Option<String> {
        match &self.input {
            Some(input) if !input.is_lost() => None,
            Some(_) => {
                self.input = None;
                Some(format!("{} has gone, and is looked for", self.what))
            }
            None => {
                self.input = Some((self.listen)().ok()?.0);
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
