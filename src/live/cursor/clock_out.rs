use super::{Cursor, Scores, score};
use crate::perform::{Message, Sync};

/// Ticks of a timing clock: 24 to the quarter (MIDI 1.0 Detailed Specification).
const CLOCK: i64 = 960 / 24;

/// Ticks of a step of the song position: six timing clocks (MIDI 1.0 Detailed Specification).
const SIXTEENTH: i64 = 6 * CLOCK;

/// The last song position: two bytes of seven bits.
const LAST: u16 = 16_383;

/// MIDI clock as it is sent.
#[derive(Clone, Debug)]
pub(super) struct ClockOut {
    on: bool,
    /// True between start or continue and stop.
    running: bool,
    started: bool,
    /// The next timing clock, on the timeline.
    next: i64,
    /// The place in the song that the next timing clock stands for.
    place: i64,
}

impl ClockOut {
    pub(super) const fn new(on: bool) -> Self {
        Self { on, running: false, started: false, next: 0, place: 0 }
    }

    pub(super) fn next(&self) -> Option<i64> {
        self.running.then_some(self.next)
    }

    pub(super) const fn tick(&mut self) {
        self.next += CLOCK;
        self.place += CLOCK;
    }
}

impl Cursor {
    /// Playing stops.
    pub(super) fn clock_stop(&mut self) {
        if self.clock.running {
            self.clock.running = false;
            self.outbox.push(Message::Sync(Sync::Stop));
        }
    }

    /// The bar begins.
    pub(super) fn clock_at_bar(&mut self, scores: &Scores) {
        let bar = score(scores, self.slot).and_then(|score| score.bars.get(self.bar));
        let Some(place) = bar.map(|bar| bar.place) else { return };
        if !self.clock.on || (self.clock.running && self.clock.place == place) {
            return;
        }
        // A position is only told while stopped.
        self.clock_stop();
        if place == 0 && !self.clock.started {
            self.outbox.push(Message::Sync(Sync::Start));
        } else {
            let sixteenths = u16::try_from(place.max(0) / SIXTEENTH).unwrap_or(LAST).min(LAST);
            self.outbox.push(Message::Sync(Sync::Position { sixteenths }));
            self.outbox.push(Message::Sync(Sync::Continue));
        }
        self.clock.started = true;
        self.clock.running = true;
        self.clock.next = self.head;
        self.clock.place = place;
    }

    /// A new listener needs to be told where the song is, when the next bar begins.
    pub(in crate::live) const fn clock_again(&mut self) {
        self.clock.place = i64::MIN;
    }
}
