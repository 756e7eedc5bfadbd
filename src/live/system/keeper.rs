use std::fmt;
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded, unbounded};
use rtrb::{Consumer, Producer};

use super::MonotonicClock;
use crate::live::{Clock, PlayError, Slot, Supply};
use crate::ports::{PortError, PortSource};
use crate::sink::MidiOut;
use crate::time::Nanos;

/// How often a lost output is looked for, and an open one looked after.
const LOOK: Nanos = Nanos(200_000_000);

/// How often it is seen whether an output was handed back: well under a look.
const GLANCE: Duration = Duration::from_millis(20);

/// The same while all is there: what was lost is still told before the next beat.
const CALM_GLANCE: Duration = Duration::from_millis(150);

/// How long the end waits for a keeper that waits for a server without an answer.
const LONGEST_END: Duration = Duration::from_secs(3);

/// How an output is opened again. Called on a thread that may wait.
pub trait Opener: Send {
    /// What the player calls it: "the MIDI output …", to stand in a sentence.
    fn name(&self) -> String;

    /// Opens it anew.
    ///
    /// # Errors
    /// Why it can't be had now.
    fn open(&mut self) -> Result<Box<dyn MidiOut>, Missing>;

    /// Looks after an open one, where only a look at the system's list tells that it has gone; the
    /// output given last then says that it is lost. False if it is not there.
    fn still_there(&mut self) -> bool {
        true
    }
}

/// Why an output can't be had now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Missing {
    /// It is not there.
    Gone,
    /// It is, but does not open, or it can't be told which it is; says so in the player's words.
    Refused(String),
}

impl Opener for PortSource {
    fn name(&self) -> String {
        format!("the MIDI output {}", PortSource::name(self))
    }

    fn open(&mut self) -> Result<Box<dyn MidiOut>, Missing> {
        self.open_again().map_err(|error| match error {
            PortError::Gone { .. } | PortError::NoSystemMidi { .. } => Missing::Gone,
            error => Missing::Refused(error.to_string()),
        })
    }

    fn still_there(&mut self) -> bool {
        self.look()
    }
}

/// What the player should hear of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeeperNotice {
    /// An output has gone; it is looked for.
    Lost {
        /// Which place is silent.
        slot: Slot,
        /// The output's name.
        name: String,
    },
    /// It is there but can't be taken up; it is still looked for.
    Refused {
        /// Which place is silent.
        slot: Slot,
        /// The output's name.
        name: String,
        /// Why.
        why: String,
    },
    /// It is taken up again.
    Back {
        /// Which place sounds again.
        slot: Slot,
        /// The output's name.
        name: String,
    },
}

impl KeeperNotice {
    /// Which place it is about.
    pub const fn slot(&self) -> Slot {
        match self {
            Self::Lost { slot, .. } | Self::Refused { slot, .. } | Self::Back { slot, .. } => *slot,
        }
    }
}

impl fmt::Display for KeeperNotice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Lost { name, .. } => {
                write!(f, "{name} has gone: the beat goes on, and it is taken up when it is back")
            }
            Self::Refused { name, why, .. } => {
                write!(f, "{name} can't be taken up yet, and is still looked for: {why}")
            }
            Self::Back { name, .. } => write!(f, "{name} is back"),
        }
    }
}

/// Looks after the outputs: closes those that were lost and opens them again when they are back.
/// Without a thread and without a clock of its own; [`keep`] gives it both.
#[derive(Default)]
pub struct Keeper {
    places: Vec<KeptOutput>,
    /// True while all is to be closed and stay so.
    resting: bool,
}

struct KeptOutput {
    slot: Slot,
    opener: Box<dyn Opener>,
    /// True while there is no output.
    lost: bool,
    /// True if the player knows that.
    lost_told: bool,
    next_look: Nanos,
    /// The refusal that the player knows of.
    told: Option<String>,
}

impl KeptOutput {
    fn tell_lost(&mut self, tell: &mut dyn FnMut(KeeperNotice)) {
        if !std::mem::replace(&mut self.lost_told, true) {
            tell(KeeperNotice::Lost { slot: self.slot, name: self.opener.name() });
        }
    }
}

impl Keeper {
    /// A keeper of nothing.
    pub fn new() -> Self {
        Self::default()
    }

    /// Keeps the output of a place, which is open, or else is looked for from now on.
    #[must_use]
    pub fn keeping(mut self, slot: Slot, opener: Box<dyn Opener>, open: bool) -> Self {
        let next_look = Nanos(i64::MIN);
        let (lost, lost_told) = (!open, !open);
        self.places.push(KeptOutput { slot, opener, lost, lost_told, next_look, told: None });
        self
    }

    /// Takes an output that was lost and closes it, which may take a while.
    pub fn take_in(&mut self, lost: Supply, tell: &mut dyn FnMut(KeeperNotice)) {
        let Supply { slot, out } = lost;
        // Said first: closing waits for a port that has died.
        if let Some(place) = self.places.iter_mut().find(|place| place.slot == slot) {
            if !self.resting {
                place.tell_lost(tell);
            }
            place.lost = true;
            place.told = None;
            place.next_look = Nanos(i64::MIN);
        }
        out.close();
    }

    /// From now on what is handed back is closed and stays so; nobody is told.
    pub fn rest(&mut self) {
        self.resting = true;
    }

    /// True once all that it keeps is closed.
    pub fn is_all_closed(&self) -> bool {
        self.places.iter().all(|place| place.lost)
    }

    /// True while all that it keeps is there.
    pub fn has_all(&self) -> bool {
        self.places.iter().all(|place| !place.lost)
    }

    /// Opens again what was closed, at the next look.
    pub fn wake(&mut self) {
        self.resting = false;
        for place in &mut self.places {
            place.next_look = Nanos(i64::MIN);
        }
    }

    /// Looks for what is lost, and after what is open, as often as is due.
    pub fn look(
        &mut self,
        now: Nanos,
        supply: &mut dyn FnMut(Supply),
        tell: &mut dyn FnMut(KeeperNotice),
    ) {
        for place in &mut self.places {
            if self.resting || now < place.next_look {
                continue;
            }
            place.next_look = Nanos(now.0.saturating_add(LOOK.0));
            if !place.lost {
                // Once it is found missing, its output says that it is lost and comes back here.
                let _ = place.opener.still_there();
                continue;
            }
            let slot = place.slot;
            match place.opener.open() {
                Ok(out) => {
                    place.lost = false;
                    place.told = None;
                    supply(Supply { slot, out });
                    if std::mem::take(&mut place.lost_told) {
                        tell(KeeperNotice::Back { slot, name: place.opener.name() });
                    }
                }
                Err(Missing::Gone) => {
                    place.told = None;
                    place.tell_lost(tell);
                }
                Err(Missing::Refused(why)) if place.told.as_ref() == Some(&why) => {}
                Err(Missing::Refused(why)) => {
                    place.lost_told = true;
                    place.told = Some(why.clone());
                    tell(KeeperNotice::Refused { slot, name: place.opener.name(), why });
                }
            }
        }
    }
}

/// A keeper at work. Dropped, it ends; what was handed back by then is closed.
pub struct Keeping {
    thread: Option<thread::JoinHandle<()>>,
    asks: Option<Sender<Ask>>,
    notices: Receiver<KeeperNotice>,
}

/// What a keeper at work is asked.
#[derive(Debug)]
enum Ask {
    /// To let all be closed, and to say when it is.
    Rest(Sender<()>),
    /// To open it again.
    Wake,
}

impl Keeping {
    /// What the player should hear of; never waits.
    pub fn notices(&self) -> impl Iterator<Item = KeeperNotice> {
        self.notices.try_iter()
    }

    /// Lets every output that the playing thread [hands back](crate::live::Command::HandBack) be closed, and
    /// opens none, until [`Self::wake`]. What it gives hears when all are closed. For a program that is
    /// about to stand still: a server waits for its clients.
    pub fn rest(&self) -> Receiver<()> {
        let (done, closed) = bounded(1);
        if let Some(asks) = &self.asks {
            let _ = asks.send(Ask::Rest(done));
        }
        closed
    }

    /// Opens the outputs again.
    pub fn wake(&self) {
        if let Some(asks) = &self.asks {
            let _ = asks.send(Ask::Wake);
        }
    }

    /// True once the keeper has broken off, by a panic: nothing that is lost comes back any more.
    pub fn has_broken_off(&self) -> bool {
        self.thread.as_ref().is_some_and(thread::JoinHandle::is_finished)
    }

    /// The same as a channel, to wait on together with others.
    pub const fn channel(&self) -> &Receiver<KeeperNotice> {
        &self.notices
    }
}

impl Drop for Keeping {
    fn drop(&mut self) {
        drop(self.asks.take());
        let Some(thread) = self.thread.take() else { return };
        let give_up = Instant::now() + LONGEST_END;
        while !thread.is_finished() && Instant::now() < give_up {
            thread::sleep(GLANCE / 10);
        }
        if thread.is_finished() {
            let _ = thread.join();
        }
    }
}

/// Sets a keeper to work on a thread of its own. It takes lost outputs from `lost`, and hands new ones
/// on through `supplies`; both queues' other ends are the playing thread's.
///
/// # Errors
/// [`PlayError::NoThread`].
pub fn keep(
    mut keeper: Keeper,
    mut lost: Consumer<Supply>,
    mut supplies: Producer<Supply>,
) -> Result<Keeping, PlayError> {
    let (asks, asked) = unbounded();
    let (note, notices) = unbounded();
    let work = move || {
        let clock = MonotonicClock::new();
        let mut tell = |notice| {
            let _ = note.send(notice);
        };
        let mut closed: Option<Sender<()>> = None;
        let mut next = Err(RecvTimeoutError::Timeout);
        while !matches!(next, Err(RecvTimeoutError::Disconnected)) {
            // Before what is handed back: that it is to rest is said first.
            for ask in next.into_iter().chain(asked.try_iter()) {
                match ask {
                    Ask::Rest(done) => {
                        keeper.rest();
                        closed = Some(done);
                    }
                    Ask::Wake => keeper.wake(),
                }
            }
            while let Ok(out) = lost.pop() {
                keeper.take_in(out, &mut tell);
            }
            let mut supply = |supply| {
                // No room, or nobody to take it: the band has ended.
                if let Err(rtrb::PushError::Full(Supply { out, .. })) = supplies.push(supply) {
                    out.close();
                }
            };
            keeper.look(clock.now(), &mut supply, &mut tell);
            if let Some(closed) = closed.take_if(|_| keeper.is_all_closed()) {
                let _ = closed.send(());
            }
            let calm = closed.is_none() && keeper.has_all();
            next = asked.recv_timeout(if calm { CALM_GLANCE } else { GLANCE });
        }
        while let Ok(Supply { out, .. }) = lost.pop() {
            out.close();
        }
    };
    let thread = thread::Builder::new()
        .name("openchair-keep".to_owned())
        .spawn(work)
        .map_err(|error| PlayError::NoThread(error.to_string()))?;
    Ok(Keeping { thread: Some(thread), asks: Some(asks), notices })
}

#[cfg(test)]
#[path = "keeper_tests.rs"]
mod tests;
