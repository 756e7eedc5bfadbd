use super::outbox::Outbox;
use crate::perform::{Message, Sync};
use crate::time::Nanos;

/// Ticks of a timing clock: 24 to the quarter (MIDI 1.0 Detailed Specification).
const CLOCK: i64 = 960 / 24;

/// Ticks of a step of the song position: six timing clocks (MIDI 1.0 Detailed Specification).
const SIXTEENTH: i64 = 6 * CLOCK;

/// The last song position: two bytes of seven bits.
const LAST: u16 = 16_383;

/// MIDI clock as it is sent. Timing clocks go on while the song is stopped, as MIDI 1.0 recommends (from memory): what
/// goes by them keeps the tempo, and is there when it starts.
#[derive(Clone, Copy, Debug)]
pub(super) struct ClockOut {
    /// How much time a listener needs between a stop, a position and a continue, in nanoseconds; `None` where no
    /// clock is sent.
    gap: Option<i64>,
    /// True between start or continue and stop.
    running: bool,
    started: bool,
    /// The next timing clock, on the timeline.
    next: i64,
    /// The place in the song that the next timing clock stands for.
    place: i64,
    /// How the song goes on, where that takes time.
    resume: Option<Resume>,
}

/// Going on at a place, step by step.
#[derive(Clone, Copy, Debug)]
struct Resume {
    /// When the position is told, on the timeline; `None` once it was.
    position: Option<i64>,
    /// When the continue is.
    go: i64,
    /// The first timing clock that counts, and the place that it stands for.
    first: i64,
    place: i64,
}

impl ClockOut {
    pub(super) const fn new(gap: Option<Nanos>) -> Self {
        let gap = match gap {
            Some(gap) => Some(gap.0),
            None => None,
        };
        Self { gap, running: false, started: false, next: 0, place: 0, resume: None }
    }

    /// How much time a listener needs between two words, in nanoseconds.
    pub(super) fn gap(&self) -> i64 {
        self.gap.unwrap_or(0)
    }

    /// When something is said next, on the timeline, of which the present is `floor`.
    pub(super) fn next(&self, floor: i64) -> Option<i64> {
        self.gap?;
        if self.running {
            return Some(self.next);
        }
        let idle = self.idle(floor);
        Some(self.resume.map_or(idle, |resume| idle.min(resume.position.unwrap_or(resume.go))))
    }

    /// The next timing clock while the song is stopped: a clock's length from now at most, wherever the timeline was
    /// tied meanwhile.
    fn idle(&self, floor: i64) -> i64 {
        let ahead = self.next.saturating_sub(floor);
        if (0..=CLOCK).contains(&ahead) { self.next } else { floor + ahead.rem_euclid(CLOCK) }
    }

    /// Says it.
    pub(super) fn say(&mut self, floor: i64) -> Sync {
        if self.running {
            self.next += CLOCK;
            self.place += CLOCK;
            return Sync::Clock;
        }
        let idle = self.idle(floor);
        match &mut self.resume {
            Some(Resume { position: position @ Some(_), place, .. })
                if position.is_some_and(|at| at <= idle) =>
            {
                *position = None;
                Sync::Position { sixteenths: sixteenths(*place) }
            }
            Some(resume) if resume.position.is_none() && resume.go <= idle => {
                (self.next, self.place) = (resume.first, resume.place);
                self.resume = None;
                self.running = true;
                Sync::Continue
            }
            _ => {
                self.next = idle + CLOCK;
                Sync::Clock
            }
        }
    }

    /// Timing clocks are to lie so that one falls on `line`, while the song is stopped.
    pub(super) const fn align(&mut self, line: i64) {
        if !self.running {
            self.next = line;
        }
    }

    /// Playing stops.
    pub(super) fn stop(&mut self, outbox: &mut Outbox) {
        self.resume = None;
        if self.running {
            self.running = false;
            outbox.push(Message::Sync(Sync::Stop));
        }
    }

    /// A bar at `place` in the song begins at `head` on the timeline. `gap` is how many of its ticks a listener needs
    /// between a stop, a position and a continue; with none, all is said at once.
    pub(super) fn begin_bar(&mut self, place: i64, head: i64, gap: i64, outbox: &mut Outbox) {
        let goes_on = self.running && self.place == place;
        // Short bars, and a listener that takes long.
        let comes = self.resume.is_some_and(|it| it.first - it.place == head - place);
        if self.gap.is_none() || goes_on || comes {
            return;
        }
        // A position is only told while stopped.
        let stopped = if self.running { gap } else { 0 };
        self.stop(outbox);
        let starts = place == 0 && !self.started;
        self.started = true;
        if gap > 0 && !starts {
            // Positions are sixteenths; what lies before is passed over, so that from there on all is in time.
            let after = place.max(0) + stopped + 2 * gap;
            let there = (after + SIXTEENTH - 1) / SIXTEENTH * SIXTEENTH;
            let first = head + there - place;
            let position = Some(head + stopped);
            self.resume = Some(Resume { position, go: first - gap, first, place: there });
            self.next = head;
            return;
        }
        if starts {
            outbox.push(Message::Sync(Sync::Start));
        } else {
            outbox.push(Message::Sync(Sync::Position { sixteenths: sixteenths(place) }));
            outbox.push(Message::Sync(Sync::Continue));
        }
        self.running = true;
        self.next = head;
        self.place = place;
    }

    /// A new listener needs to be told where the song is, when the next bar begins.
    pub(super) const fn tell_again(&mut self) {
        self.place = i64::MIN;
    }
}

/// A place as a song position tells it.
fn sixteenths(place: i64) -> u16 {
    u16::try_from(place.max(0) / SIXTEENTH).unwrap_or(LAST).min(LAST)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is said when bars begin at these places, each four clocks after the one before.
    fn said(clock: &mut ClockOut, places: &[i64]) -> Vec<Sync> {
        let mut outbox = Outbox::new();
        for &place in places {
            clock.begin_bar(place, 0, 0, &mut outbox);
            (0..4).for_each(|_| _ = clock.say(0));
        }
        let sync = std::iter::from_fn(|| outbox.pop()).map(|message| match message {
            Message::Sync(sync) => sync,
            other => panic!("{other:?}"),
        });
        sync.collect()
    }

    #[test]
    fn a_position_is_told_only_where_the_song_jumps() {
        let mut clock = ClockOut::new(Some(Nanos(0)));
        assert_eq!(said(&mut clock, &[0, 160, 320]), [Sync::Start]);
        let there = Sync::Position { sixteenths: 10 };
        assert_eq!(said(&mut clock, &[2400]), [Sync::Stop, there, Sync::Continue]);
        clock.tell_again();
        let on = Sync::Position { sixteenths: 11 };
        assert_eq!(said(&mut clock, &[2640]), [Sync::Stop, on, Sync::Continue]);
    }

    #[test]
    fn none_is_sent_where_none_was_asked_for() {
        let mut clock = ClockOut::new(None);
        assert_eq!(said(&mut clock, &[0, 160]), []);
        assert_eq!(clock.next(0), None);
    }
    /// All that is said up to a place on the timeline, and where.
    fn says(clock: &mut ClockOut, mut floor: i64, until: i64) -> Vec<(i64, Sync)> {
        let mut out = Vec::new();
        while let Some(at) = clock.next(floor).filter(|at| *at < until) {
            floor = at;
            out.push((at, clock.say(floor)));
        }
        out
    }

    #[test]
    fn timing_clocks_go_on_while_stopped_and_meet_the_bar() {
        let mut clock = ClockOut::new(Some(Nanos(0)));
        let at: Vec<i64> = says(&mut clock, 1_003, 1_100).iter().map(|it| it.0).collect();
        assert_eq!(at, [1_040, 1_080]);
        // Tied elsewhere, and to begin at 90.
        clock.align(90);
        let at: Vec<i64> = says(&mut clock, 5, 90).iter().map(|it| it.0).collect();
        assert_eq!(at, [10, 50]);
        let mut outbox = Outbox::new();
        clock.begin_bar(0, 90, 0, &mut outbox);
        assert_eq!(outbox.pop(), Some(Message::Sync(Sync::Start)));
        assert_eq!(says(&mut clock, 90, 131), [(90, Sync::Clock), (130, Sync::Clock)]);
    }

    #[test]
    fn a_slow_listener_gets_time_between_the_words_and_is_in_time_after() {
        let mut clock = ClockOut::new(Some(Nanos(1)));
        let mut outbox = Outbox::new();
        clock.begin_bar(0, 0, 10, &mut outbox);
        says(&mut clock, 0, 3_840);
        while outbox.pop().is_some() {}
        // From bar 2 to the place 9,600, which begins at 3,840.
        clock.begin_bar(9_600, 3_840, 10, &mut outbox);
        assert_eq!(outbox.pop(), Some(Message::Sync(Sync::Stop)));
        assert_eq!(outbox.pop(), None);
        let said = says(&mut clock, 3_840, 4_121);
        let words: Vec<(i64, Sync)> =
            said.iter().copied().filter(|it| it.1 != Sync::Clock).collect();
        let there = Sync::Position { sixteenths: 41 };
        assert_eq!(words, [(3_850, there), (4_070, Sync::Continue)]);
        let clocks: Vec<i64> =
            said.iter().filter(|it| it.1 == Sync::Clock).map(|it| it.0).collect();
        assert_eq!(clocks, [3_840, 3_880, 3_920, 3_960, 4_000, 4_040, 4_080, 4_120]);
        assert_eq!(clock.place, 41 * 240 + 80, "the clock at 4,080 is the sixteenth's first");
        // Where the song goes on from there, nothing more is said.
        clock.begin_bar(9_600 + 3_840, 7_680, 10, &mut outbox);
        assert_eq!(
            says(&mut clock, 4_121, 7_681).iter().filter(|it| it.1 != Sync::Clock).count(),
            0
        );
    }

    #[test]
    fn a_bar_that_begins_before_the_listener_was_ready_changes_nothing() {
        let mut clock = ClockOut::new(Some(Nanos(1)));
        let mut outbox = Outbox::new();
        clock.begin_bar(480, 0, 200, &mut outbox);
        let first = says(&mut clock, 0, 470);
        clock.begin_bar(960, 480, 200, &mut outbox);
        let words: Vec<(i64, Sync)> = first
            .into_iter()
            .chain(says(&mut clock, 470, 700))
            .filter(|it| it.1 != Sync::Clock)
            .collect();
        assert_eq!(words, [(0, Sync::Position { sixteenths: 4 }), (280, Sync::Continue)]);
        assert_eq!(outbox.pop(), None);
        clock.stop(&mut outbox);
        assert_eq!(outbox.pop(), Some(Message::Sync(Sync::Stop)));
    }
}
