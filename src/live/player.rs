use std::panic::{AssertUnwindSafe, catch_unwind};

use thiserror::Error;

use super::clock::SPIN;
use super::sounding::Sounding;
use super::{Clock, Control, Schedule};
use crate::perform::Message;
use crate::sink::{AT_ONCE, Losses, MidiOut, PortError};
use crate::time::Nanos;

/// How often a long wait looks for a stop: half of the 10 ms within which one is seen.
const SLICE: i64 = 5_000_000;

/// How far back a message may still lie in a server's queue although its time has come: longer than
/// any period. Of notes that ended since, the end may have been taken back.
const UNSURE: i64 = 1_000_000_000;

/// How often a note-off that the port refuses is tried, and how long after: for a tenth of a second.
const TRIES: u32 = 20;
const TRY_AGAIN: i64 = 5_000_000;

/// How playing went.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PlayReport {
    /// Messages of the performance that were sent, set-up included.
    pub sent: usize,
    /// True if it was stopped before its end.
    pub stopped: bool,
    /// The latest that a message was handed to the port after the time it was wanted.
    pub latest: Nanos,
    /// What a server behind the port has lost.
    pub losses: Losses,
}

/// Why playing ended before its time.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum PlayError {
    /// The port.
    #[error(transparent)]
    Port(#[from] PortError),
    /// The playing thread could not be started.
    #[error(
        "the system starts no further thread ({0}): close some programs, or play to the built-in sound"
    )]
    NoThread(String),
    /// The playing thread broke off.
    #[error("playing broke off ({0}): this is a fault in openchair, please report it")]
    BrokeOff(String),
}

/// Plays a schedule and closes the port, whatever happens. See [`run`].
///
/// # Errors
/// The port failed. Every note has been damped as far as the port let it.
pub fn play(
    schedule: &Schedule,
    mut out: Box<dyn MidiOut>,
    clock: &dyn Clock,
    control: &Control,
) -> Result<PlayReport, PlayError> {
    let result = run(schedule, out.as_mut(), clock, control);
    out.close();
    result
}

/// Plays a schedule from its beginning: each message at its time, or as far ahead as the output
/// wants it. Ends at the schedule's end or soon after a stop. On every way out every note that
/// sounds gets its note-off; closing the port is left to the caller. Allocates nothing and takes no
/// lock until something fails.
///
/// # Errors
/// The port failed.
pub fn run(
    schedule: &Schedule,
    out: &mut dyn MidiOut,
    clock: &dyn Clock,
    control: &Control,
) -> Result<PlayReport, PlayError> {
    let start = Nanos(clock.now().0 + schedule.lead().0 + out.ahead().0);
    let mut player = Player {
        schedule,
        clock,
        control,
        start,
        sounding: Sounding::default(),
        report: PlayReport::default(),
    };
    let result = catch_unwind(AssertUnwindSafe(|| player.send_all(out)));
    if !matches!(result, Ok(Ok(()))) || player.report.stopped || !player.sounding.is_empty() {
        player.damp_all(out);
    }
    player.report.losses = out.losses();
    match result {
        Ok(Ok(())) => Ok(player.report),
        Ok(Err(error)) => Err(error.into()),
        Err(cause) => Err(PlayError::BrokeOff(panic_text(cause.as_ref()))),
    }
}

struct Player<'a> {
    schedule: &'a Schedule,
    clock: &'a dyn Clock,
    control: &'a Control,
    /// The clock's time at the performance's time 0.
    start: Nanos,
    sounding: Sounding,
    report: PlayReport,
}

impl Player<'_> {
    fn send_all(&mut self, out: &mut dyn MidiOut) -> Result<(), PortError> {
        for event in self.schedule.due() {
            let due = Nanos(self.start.0 + event.at.0);
            let ahead = out.ahead();
            let exactly = ahead == Nanos(0);
            let wanted = Nanos(due.0 - ahead.0);
            let Some(now) = self.wait(wanted, exactly) else {
                self.report.stopped = true;
                return Ok(());
            };
            self.report.latest = self.report.latest.max(Nanos(now.0 - wanted.0));
            // Marked before, unmarked after: whatever happens in between, it gets a note-off.
            if let Message::NoteOn { channel, pitch, .. } = event.message {
                self.sounding.set(channel, pitch);
            }
            out.send(due, event.message)?;
            if let Message::NoteOff { channel, pitch } = event.message {
                self.sounding.clear(channel, pitch);
            }
            self.report.sent += 1;
        }
        let end = Nanos(self.start.0 + self.schedule.end().0);
        self.report.stopped = self.wait(end, false).is_none();
        Ok(())
    }

    /// Waits until a deadline and gives the time then. None if a stop came first.
    fn wait(&self, deadline: Nanos, exactly: bool) -> Option<Nanos> {
        // All that is shared with other threads is touched before the exact wait, not after: on a busy
        // machine its memory is far away by then, and a message would leave some microseconds late.
        let spin = if exactly { SPIN.0 } else { 0 };
        loop {
            let now = self.clock.now();
            self.control.set_position(Nanos(now.0 - self.start.0));
            if self.control.is_stopping() {
                return None;
            }
            if now >= deadline {
                return Some(now);
            }
            let left = deadline.0 - now.0 - spin;
            if left <= 0 {
                return Some(self.clock.wait_until(deadline));
            }
            self.clock.sleep_until(Nanos(now.0 + left.min(SLICE)));
        }
    }

    fn damp_all(&mut self, out: &mut dyn MidiOut) {
        let _ = catch_unwind(AssertUnwindSafe(|| out.take_back(AT_ONCE)));
        // A note whose note-off was queued counted as ended; if that was taken back, it still sounds.
        let surely_out = self.clock.now().0 - UNSURE;
        let queues = out.ahead() > Nanos(0);
        let sent = self.schedule.due().iter().take(if queues { self.report.sent } else { 0 });
        for event in sent.rev().take_while(|event| self.start.0 + event.at.0 > surely_out) {
            if let Message::NoteOff { channel, pitch } = event.message {
                self.sounding.set(channel, pitch);
            }
        }
        for attempt in 0..TRIES {
            if attempt > 0 {
                // A port that is only full has room again soon.
                self.clock.sleep_until(Nanos(self.clock.now().0 + TRY_AGAIN));
            }
            for message in self.sounding.offs() {
                let result = catch_unwind(AssertUnwindSafe(|| out.send(AT_ONCE, message)));
                if let (Ok(Ok(())), Message::NoteOff { channel, pitch }) = (result, message) {
                    self.sounding.clear(channel, pitch);
                }
            }
            if self.sounding.is_empty() {
                break;
            }
        }
    }
}

/// What a panic said.
pub(super) fn panic_text(cause: &(dyn std::any::Any + Send)) -> String {
    let text = cause.downcast_ref::<&str>().copied();
    let text = text.or_else(|| cause.downcast_ref::<String>().map(String::as_str));
    text.unwrap_or("no cause given").to_owned()
}
