use super::outbox::Outbox;
use crate::perform::{Message, Sync};

/// Ticks of a timing clock: 24 to the quarter (MIDI 1.0 Detailed Specification).
const CLOCK: i64 = 960 / 24;

/// Ticks of a step of the song position: six timing clocks (MIDI 1.0 Detailed Specification).
const SIXTEENTH: i64 = 6 * CLOCK;

/// The last song position: two bytes of seven bits.
const LAST: u16 = 16_383;

/// MIDI clock as it is sent.
#[derive(Clone, Copy, Debug)]
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

    /// Playing stops.
    pub(super) fn stop(&mut self, outbox: &mut Outbox) {
        if self.running {
            self.running = false;
            outbox.push(Message::Sync(Sync::Stop));
        }
    }

    /// A bar at `place` in the song begins at `head` on the timeline.
    pub(super) fn begin_bar(&mut self, place: i64, head: i64, outbox: &mut Outbox) {
        if !self.on || (self.running && self.place == place) {
            return;
        }
        // A position is only told while stopped.
        self.stop(outbox);
        if place == 0 && !self.started {
            outbox.push(Message::Sync(Sync::Start));
        } else {
            let sixteenths = u16::try_from(place.max(0) / SIXTEENTH).unwrap_or(LAST).min(LAST);
            outbox.push(Message::Sync(Sync::Position { sixteenths }));
            outbox.push(Message::Sync(Sync::Continue));
        }
        self.started = true;
        self.running = true;
        self.next = head;
        self.place = place;
    }

    /// A new listener needs to be told where the song is, when the next bar begins.
    pub(super) const fn tell_again(&mut self) {
        self.place = i64::MIN;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is said when bars begin at these places, each four clocks after the one before.
    fn said(clock: &mut ClockOut, places: &[i64]) -> Vec<Sync> {
        let mut outbox = Outbox::new();
        for &place in places {
            clock.begin_bar(place, 0, &mut outbox);
            (0..4).for_each(|_| clock.tick());
        }
        let sync = std::iter::from_fn(|| outbox.pop()).map(|message| match message {
            Message::Sync(sync) => sync,
            other => panic!("{other:?}"),
        });
        sync.collect()
    }

    #[test]
    fn a_position_is_told_only_where_the_song_jumps() {
        let mut clock = ClockOut::new(true);
        assert_eq!(said(&mut clock, &[0, 160, 320]), [Sync::Start]);
        let there = Sync::Position { sixteenths: 10 };
        assert_eq!(said(&mut clock, &[2400]), [Sync::Stop, there, Sync::Continue]);
        clock.tell_again();
        let on = Sync::Position { sixteenths: 11 };
        assert_eq!(said(&mut clock, &[2640]), [Sync::Stop, on, Sync::Continue]);
    }

    #[test]
    fn none_is_sent_where_none_was_asked_for() {
        let mut clock = ClockOut::new(false);
        assert_eq!(said(&mut clock, &[0, 160]), []);
        assert_eq!(clock.next(), None);
    }
}
