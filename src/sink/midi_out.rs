use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::SendError;
use crate::perform::Message;
use crate::time::Nanos;

/// A due time long past: the message goes out at once, after all that went before it.
pub const AT_ONCE: Nanos = Nanos(i64::MIN);

/// A MIDI output that plays while time passes.
///
/// Two kinds stand behind it. One sends a message the moment it gets it, so it wants each at its
/// time. The other hands it to a server that knows the time itself, so it wants each some way ahead.
/// All times are on the clock whose start was given when the output was opened.
pub trait MidiOut: Send {
    /// How long before its due time the output wants a message; 0 for one that sends at once.
    fn ahead(&self) -> Nanos;

    /// Sends a message, or queues it until it is due. Calls come in the order of due times; what is
    /// already due goes out at once.
    ///
    /// # Errors
    /// The port took it not: nothing more can be played there.
    fn send(&mut self, due: Nanos, message: Message) -> Result<(), SendError>;

    /// How long before its due time a message is past taking back; 0 for an output that sends at
    /// once.
    fn guard(&self) -> Nanos {
        Nanos(0)
    }

    /// Drops what is queued and due at `from` or later, which should lie at least [`Self::guard`]
    /// ahead: of what is due sooner, some may have gone out.
    fn take_back(&mut self, from: Nanos);

    /// True once the port behind it has gone: what is sent reaches nobody, and another must be opened.
    fn is_lost(&self) -> bool {
        false
    }

    /// What went wrong behind the port so far.
    fn losses(&self) -> Losses {
        Losses::default()
    }

    /// Lets what was sent leave, then closes the port.
    fn close(self: Box<Self>);
}

/// What a server that keeps the time itself has lost; always 0 for an output that sends at once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Losses {
    /// How often it did not keep up and left out some time (an "xrun"). The music pauses for that
    /// long, and then catches up with the clock so slowly that nobody hears it.
    pub dropouts: u64,
    /// How many messages went out after their frame, or not at all since it was too late for them.
    pub late: u64,
}

/// One message that has left a [`Recorder`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sent {
    /// When it was due.
    pub due: Nanos,
    /// When it was handed over.
    pub at: Nanos,
    /// What.
    pub message: Message,
}

#[derive(Debug, Default)]
struct Log {
    sent: Vec<Sent>,
    closed: bool,
}

/// What a [`Recorder`] has taken, readable while it plays and after.
#[derive(Clone, Debug)]
pub struct Recording(Arc<Mutex<Log>>);

impl Recording {
    fn lock(&self) -> MutexGuard<'_, Log> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Every message that left, in order; what was taken back is not among them.
    pub fn sent(&self) -> Vec<Sent> {
        self.lock().sent.clone()
    }

    /// True once the output was closed.
    pub fn is_closed(&self) -> bool {
        self.lock().closed
    }

    /// Every note that still sounds: channel and pitch.
    pub fn sounding(&self) -> Vec<(u8, u8)> {
        let mut on = Vec::new();
        for sent in &self.lock().sent {
            match sent.message {
                Message::NoteOn { channel, pitch, .. } => on.push((channel, pitch.get())),
                Message::NoteOff { channel, pitch } => {
                    on.retain(|&note| note != (channel, pitch.get()));
                }
                _ => {}
            }
        }
        on
    }
}

/// An output that writes down what it gets instead of sounding it. With [`Recorder::scheduling`] it holds
/// messages as a scheduling server does, so that they can be taken back.
pub struct Recorder {
    now: Box<dyn Fn() -> Nanos + Send>,
    ahead: Nanos,
    period: Nanos,
    fails: std::ops::Range<usize>,
    panics_at: Option<usize>,
    calls: usize,
    recording: Recording,
}

impl Recorder {
    /// A recorder with room for `capacity` messages (it allocates nothing up to there), that reads
    /// the time from `now`.
    pub fn new(capacity: usize, now: impl Fn() -> Nanos + Send + 'static) -> Self {
        let log = Log { sent: Vec::with_capacity(capacity), closed: false };
        Self {
            now: Box::new(now),
            ahead: Nanos(0),
            period: Nanos(0),
            fails: 0..0,
            panics_at: None,
            calls: 0,
            recording: Recording(Arc::new(Mutex::new(log))),
        }
    }

    /// Takes messages `ahead` of their time, and lets go of each `period` before it: from there on it
    /// can't be taken back, as with a server that works in periods.
    #[must_use]
    pub fn scheduling(mut self, ahead: Nanos, period: Nanos) -> Self {
        self.ahead = ahead;
        self.period = period;
        self
    }

    /// Refuses the sends of this range, counted from 0.
    #[must_use]
    pub fn failing(mut self, sends: std::ops::Range<usize>) -> Self {
        self.fails = sends;
        self
    }

    /// Panics in that send, counted from 0.
    #[must_use]
    pub fn panicking(mut self, send: usize) -> Self {
        self.panics_at = Some(send);
        self
    }

    /// What it takes.
    pub fn recording(&self) -> Recording {
        self.recording.clone()
    }
}

impl MidiOut for Recorder {
    fn ahead(&self) -> Nanos {
        self.ahead
    }

    fn send(&mut self, due: Nanos, message: Message) -> Result<(), SendError> {
        let call = self.calls;
        self.calls += 1;
        // Asserted, so that a panic in an output can be tried out; nothing else asks for one.
        assert!(self.panics_at != Some(call), "the recorder was told to panic");
        if self.fails.contains(&call) {
            let cause = "the recorder was told to refuse".to_owned();
            return Err(SendError::SendFailed { port: "recorder".to_owned(), cause });
        }
        let at = (self.now)();
        self.recording.lock().sent.push(Sent { due, at, message });
        Ok(())
    }

    fn guard(&self) -> Nanos {
        self.period
    }

    fn take_back(&mut self, from: Nanos) {
        let gone = ((self.now)().0 + self.period.0).max(from.0.saturating_sub(1));
        self.recording.lock().sent.retain(|sent| sent.due.0 <= gone);
    }

    fn close(self: Box<Self>) {
        self.recording.lock().closed = true;
    }
}
