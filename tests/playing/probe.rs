//! An output that holds what it gets to the contract: in order, never early, nothing taken back that may
//! have gone out; and the messages as they were heard.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use openchair::live::{Clock, FakeClock};
use openchair::perform::Message;
use openchair::sink::{AT_ONCE, MidiOut, SendError};
use openchair::time::Nanos;

/// A message and when it is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heard {
    pub at: i64,
    /// When it was handed over.
    pub handed: i64,
    pub message: Message,
    /// Sent to go out at once: at the end, when it is not known what of the last moment has gone out.
    pub last_word: bool,
}

#[derive(Default)]
struct Log {
    heard: Vec<Heard>,
    last: i64,
    taken_back: usize,
    lost: bool,
    sleeps: bool,
    fails: bool,
    closed: bool,
}

/// What a probe has taken, and the handle to what it does.
#[derive(Clone, Default)]
pub struct Tape(Arc<Mutex<Log>>);

impl Tape {
    fn log(&self) -> MutexGuard<'_, Log> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn all(&self) -> Vec<Heard> {
        self.log().heard.clone()
    }

    pub fn notes(&self) -> Vec<Heard> {
        let mut all = self.all();
        all.retain(|it| matches!(it.message, Message::NoteOn { .. } | Message::NoteOff { .. }));
        all
    }

    pub fn taken_back(&self) -> usize {
        self.log().taken_back
    }

    pub fn is_closed(&self) -> bool {
        self.log().closed
    }

    /// From now on it says that it is lost.
    pub fn lose(&self) {
        self.log().lost = true;
    }

    /// The machine may sleep: then it is not known what has gone out.
    pub fn may_sleep(&self) {
        self.log().sleeps = true;
    }

    /// From now on it takes no more messages, or does again.
    pub fn refuse(&self, refuses: bool) {
        self.log().fails = refuses;
    }

    /// The notes that sound at a time.
    pub fn sounding(&self, at: i64) -> Vec<(u8, u8)> {
        let mut on = Vec::new();
        for heard in self.log().heard.iter().take_while(|heard| heard.at <= at) {
            match heard.message {
                Message::NoteOn { channel, pitch, .. } => on.push((channel, pitch.get())),
                Message::NoteOff { channel, pitch } => {
                    on.retain(|&note| note != (channel, pitch.get()));
                }
                _ => {}
            }
        }
        on
    }

    /// Every note-on has one note-off, and every note-off one note-on before it. Gives each note:
    /// when it began, how long it lasted, channel and pitch.
    pub fn pairs(&self) -> Vec<(i64, i64, u8, u8)> {
        let mut on: Vec<(i64, u8, u8)> = Vec::new();
        let mut pairs = Vec::new();
        let sleeps = self.log().sleeps;
        for heard in self.notes() {
            match heard.message {
                Message::NoteOn { channel, pitch, .. } => {
                    let note = (heard.at, channel, pitch.get());
                    let twice = on.iter().any(|&(_, c, p)| (c, p) == (note.1, note.2));
                    assert!(!twice, "struck again while it sounds: {heard:?}");
                    on.push(note);
                }
                Message::NoteOff { channel, pitch } => {
                    let note = (channel, pitch.get());
                    let Some(at) = on.iter().position(|&(_, c, p)| (c, p) == note) else {
                        assert!(heard.last_word || sleeps, "ends without having begun: {heard:?}");
                        continue;
                    };
                    let (begun, channel, pitch) = on.swap_remove(at);
                    pairs.push((begun, heard.at - begun, channel, pitch));
                }
                _ => {}
            }
        }
        assert!(on.is_empty(), "stuck: {on:?}");
        pairs
    }
}

pub struct Probe {
    clock: Arc<FakeClock>,
    ahead: i64,
    guard: i64,
    tape: Tape,
}

impl Probe {
    /// One that takes messages `ahead` of their time, and can't take back what is due within `guard`.
    pub fn new(clock: &Arc<FakeClock>, ahead: i64, guard: i64) -> (Box<Self>, Tape) {
        let tape = Tape::default();
        tape.log().last = i64::MIN;
        tape.log().heard.reserve(1 << 16);
        let it = Self { clock: Arc::clone(clock), ahead, guard, tape: tape.clone() };
        (Box::new(it), tape)
    }
}

impl MidiOut for Probe {
    fn ahead(&self) -> Nanos {
        Nanos(self.ahead)
    }

    fn guard(&self) -> Nanos {
        Nanos(self.guard)
    }

    fn send(&mut self, due: Nanos, message: Message) -> Result<(), SendError> {
        let now = self.clock.now().0;
        let mut log = self.tape.log();
        if log.fails {
            let cause = "it was told to refuse".to_owned();
            return Err(SendError::SendFailed { port: "probe".to_owned(), cause });
        }
        if due == AT_ONCE {
            let at = now.max(log.last);
            log.heard.push(Heard { at, handed: now, message, last_word: true });
            return Ok(());
        }
        assert!(due.0 >= log.last, "out of order: {due:?} {message:?} after {}", log.last);
        assert!(now >= due.0 - self.ahead, "early: {due:?} at {now}");
        log.last = due.0;
        log.heard.push(Heard { at: due.0, handed: now, message, last_word: false });
        Ok(())
    }

    fn take_back(&mut self, from: Nanos) {
        let now = self.clock.now().0;
        let mut log = self.tape.log();
        let soonest = now + self.guard;
        if self.ahead == 0 {
            // What it has, has gone out.
            assert!(from == AT_ONCE || from.0 > log.last);
            return;
        }
        let unsure = from == AT_ONCE || log.sleeps;
        assert!(unsure || from.0 >= soonest, "taken back although it may have gone out");
        let from = from.0.max(soonest);
        let before = log.heard.len();
        log.heard.retain(|heard| heard.at < from);
        log.taken_back += before - log.heard.len();
        log.last = log.last.min(from);
    }

    fn is_lost(&self) -> bool {
        self.tape.log().lost
    }

    fn close(self: Box<Self>) {
        self.tape.log().closed = true;
    }
}
