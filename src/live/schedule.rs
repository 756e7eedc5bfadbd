use crate::perform::{Message, Performance, messages};
use crate::time::{Nanos, Ticks};

/// How long before time 0 each channel gets its sound. A program change takes a synthesizer some
/// time, and over a MIDI cable nine messages take 9 ms, so at time 0 itself they would hold up the
/// first note.
const SET_UP_AHEAD: Nanos = Nanos(100_000_000);

/// A message and when it is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Due {
    /// When, from the performance's time 0. Only set-up is due before it.
    pub at: Nanos,
    /// What.
    pub message: Message,
}

/// Everything to send, in order and in real time, made before playing starts.
#[derive(Clone, Debug)]
pub struct Schedule {
    due: Vec<Due>,
    end: Nanos,
}

impl Schedule {
    /// Of a whole performance.
    pub fn new(performance: &Performance) -> Self {
        let due = messages(performance).into_iter().map(|timed| {
            let set_up = match timed.message {
                Message::Control { .. } | Message::Program { .. } => timed.at == Ticks::ZERO,
                _ => false,
            };
            let at =
                if set_up { Nanos(-SET_UP_AHEAD.0) } else { performance.tempo.nanos(timed.at) };
            Due { at, message: timed.message }
        });
        let mut due: Vec<Due> = due.collect();
        due.sort_by_key(|due| due.at);
        Self { due, end: performance.tempo.nanos(performance.end) }
    }

    /// Every message, by when it is due.
    pub fn due(&self) -> &[Due] {
        &self.due
    }

    /// The end of the last bar.
    pub const fn end(&self) -> Nanos {
        self.end
    }

    /// How much of the time before 0 the set-up needs.
    pub fn lead(&self) -> Nanos {
        Nanos(self.due.first().map_or(0, |first| -first.at.0.min(0)))
    }
}
