//! Going with an outside machine: its clock, start, stop, continue and song position, as MIDI 1.0 has them.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU32, Ordering};

use super::{CLOCKS_A_QUARTER, ClockFilter, Estimate, Follow};
use crate::time::{Nanos, Tempo, Ticks};

/// From one timing clock to the next (MIDI 1.0: 24 to the quarter note).
const CLOCK: Ticks = Ticks::new(Ticks::PER_QUARTER as i64 / CLOCKS_A_QUARTER as i64);

/// What the song position counts in (MIDI 1.0: sixteenth notes, six clocks each).
const SIXTEENTH: Ticks = Ticks::new(Ticks::PER_QUARTER as i64 / 4);

/// The band is told where the outside is every sixteenth note, more often only if the tempo changes.
const CLOCKS_A_REPORT: u64 = 6;

/// A tempo this different, in parts of a thousand, is told at once.
const NEWS: u64 = 5;

/// Without a clock for this long the outside is lost. At ten quarters a minute, the slowest tempo of
/// all, a clock comes every quarter of a second.
const LOST_AFTER: i64 = 500_000_000;

/// What the outside machine has said of its going.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Transport {
    /// Nothing: clocks alone are a tempo to play at.
    Unsaid,
    /// It stands.
    Stopped,
    /// The next clock is at the place.
    Starting,
    /// It plays; clock 0 was at the place.
    Running(Ticks),
}

/// Turns the messages of a MIDI input into what the playing thread is told.
///
/// After a start the next clock is the song's first beat, after a continue it is where the song was stopped
/// or the position that was sent since; a position counts while the machine stands. Clocks that
/// come without any of these are a machine that ran already: they give the tempo and where the beats are
/// (the first that is heard is taken for one), and the song begins when the player lets it. When the
/// clocks stop coming nothing is told, so the band keeps the last tempo.
///
/// Allocates nothing and takes no lock: it may run in a real-time thread.
pub struct Follower<S> {
    filter: ClockFilter,
    transport: Transport,
    /// Where the song goes on after a continue.
    place: Ticks,
    /// The tempo until the clock gives one.
    tempo: Tempo,
    /// The tempo that was told last.
    told: Option<Tempo>,
    send: S,
    /// A start, continue or stop for which there was no room.
    unsent: Option<Follow>,
    shared: Arc<Shared>,
}

#[derive(Debug)]
struct Shared {
    last: AtomicI64,
    micros: AtomicU32,
}

/// How an outside clock stands, for the screen. Reading never waits.
#[derive(Clone, Debug)]
pub struct OutsideClock(Arc<Shared>);

/// Whether there is an outside clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outside {
    /// None has been heard yet.
    Awaited,
    /// It is heard. Its tempo, once that is known.
    Heard(Option<Tempo>),
    /// It has not been heard for half a second. Its last tempo.
    Lost(Option<Tempo>),
}

impl OutsideClock {
    /// How it stands at `now`, on the clock that the follower's times are from.
    pub fn at(&self, now: Nanos) -> Outside {
        let last = self.0.last.load(Ordering::Acquire);
        let micros = self.0.micros.load(Ordering::Acquire);
        let tempo = (micros > 0).then(|| Tempo::from_micros(micros));
        match last {
            i64::MIN => Outside::Awaited,
            last if now.0.saturating_sub(last) > LOST_AFTER => Outside::Lost(tempo),
            _ => Outside::Heard(tempo),
        }
    }
}

impl<S: FnMut(Follow) -> bool> Follower<S> {
    /// One that tells `send`, which says whether it had room. `tempo` is what a start is taken to mean
    /// before the first clocks have shown another.
    pub fn new(tempo: Tempo, send: S) -> (Self, OutsideClock) {
        let shared = Arc::new(Shared { last: AtomicI64::new(i64::MIN), micros: AtomicU32::new(0) });
        let follower = Self {
            filter: ClockFilter::new(),
            transport: Transport::Unsaid,
            place: Ticks::ZERO,
            tempo,
            told: None,
            send,
            unsent: None,
            shared: Arc::clone(&shared),
        };
        (follower, OutsideClock(shared))
    }

    /// A message that came at `at`. All but those of the clock are ignored.
    pub fn heard(&mut self, at: Nanos, bytes: &[u8]) {
        match *bytes {
            [0xF8] => self.clock(at),
            [0xFA] => self.start(Ticks::ZERO),
            [0xFB] if !self.is_running() => self.start(self.place),
            [0xFC] => self.stop(),
            [0xF2, low, high] if !self.is_running() => {
                let sixteenths = i64::from(low & 0x7F) | i64::from(high & 0x7F) << 7;
                self.place = SIXTEENTH * sixteenths;
            }
            _ => {}
        }
    }

    fn is_running(&self) -> bool {
        matches!(self.transport, Transport::Running(_) | Transport::Starting)
    }

    fn start(&mut self, place: Ticks) {
        self.place = place;
        self.transport = Transport::Starting;
        self.filter.start();
    }

    fn stop(&mut self) {
        if self.transport != Transport::Stopped {
            self.transport = Transport::Stopped;
            self.tell(Follow::Stop);
        }
    }

    fn clock(&mut self, at: Nanos) {
        if let Some(unsent) = self.unsent.take() {
            self.tell(unsent);
        }
        let estimate = self.filter.tick(at);
        if let Some(tempo) = estimate.map(tempo_of) {
            self.tempo = tempo;
            self.shared.micros.store(tempo.micros_per_quarter(), Ordering::Release);
        }
        self.shared.last.store(at.0, Ordering::Release);
        match self.transport {
            Transport::Stopped => {}
            Transport::Starting => {
                let (place, tempo) = (self.place, self.tempo);
                self.transport = Transport::Running(place);
                self.place = place + CLOCK;
                self.told = estimate.is_some().then_some(tempo);
                self.tell(if place == Ticks::ZERO {
                    Follow::Start(at, tempo)
                } else {
                    Follow::Continue { place, at, tempo }
                });
            }
            Transport::Unsaid => self.beat(estimate, Ticks::ZERO),
            Transport::Running(origin) => {
                self.place += CLOCK;
                self.beat(estimate, origin);
            }
        }
    }

    /// Where the outside is, if it is time to tell.
    fn beat(&mut self, estimate: Option<Estimate>, origin: Ticks) {
        let Some(estimate) = estimate else { return };
        let place = origin + CLOCK * i64::try_from(estimate.ticks).unwrap_or(i64::MAX);
        if let Transport::Running(_) = self.transport {
            self.place = place + CLOCK;
        }
        let tempo = tempo_of(estimate);
        let news = self.told.is_none_or(|told| {
            let (told, now) = (told.micros_per_quarter(), tempo.micros_per_quarter());
            u64::from(told.abs_diff(now)) * 1000 > u64::from(told) * NEWS
        });
        if news || estimate.ticks % CLOCKS_A_REPORT == 0 {
            self.told = Some(tempo);
            // If there is no room for this one, the next will do.
            let _ = (self.send)(Follow::Beat { place, at: estimate.at, tempo });
        }
    }

    fn tell(&mut self, follow: Follow) {
        if !(self.send)(follow) {
            self.unsent = Some(follow);
        }
    }
}

fn tempo_of(estimate: Estimate) -> Tempo {
    Tempo::from_micros(u32::try_from(estimate.nanos_per_quarter.div_ceil(1000)).unwrap_or(u32::MAX))
}

#[cfg(test)]
mod tests {
    use std::cell::RefCell;
    use std::rc::Rc;

    use super::*;

    // MIDI 1.0 ("MIDI beat clock", and the appendix of the Standard MIDI-File Format Spec. 1.1): clock
    // F8, 24 to the quarter; start FA, continue FB, stop FC; position F2 ll mm, fourteen bits, the lower
    // seven first, in sixteenths, of which one is six clocks.
    const START: &[u8] = &[0xFA];
    const CONTINUE: &[u8] = &[0xFB];
    const STOP: &[u8] = &[0xFC];

    const SONG: Tempo = Tempo::from_micros(600_000);
    /// A clock at 120 quarters a minute, in nanoseconds.
    const PERIOD: i64 = 500_000_000 / 24;

    struct Told {
        all: Rc<RefCell<Vec<Follow>>>,
        now: i64,
    }

    type Test = (Told, Follower<Box<dyn FnMut(Follow) -> bool>>, OutsideClock);

    fn follower() -> Test {
        let all = Rc::new(RefCell::new(Vec::new()));
        let kept = Rc::clone(&all);
        let send: Box<dyn FnMut(Follow) -> bool> = Box::new(move |follow| {
            kept.borrow_mut().push(follow);
            true
        });
        let (follower, outside) = Follower::new(SONG, send);
        (Told { all, now: 0 }, follower, outside)
    }

    impl Told {
        fn clocks<S: FnMut(Follow) -> bool>(&mut self, follower: &mut Follower<S>, count: usize) {
            for _ in 0..count {
                self.now += PERIOD;
                follower.heard(Nanos(self.now), &[0xF8]);
            }
        }

        fn take(&self) -> Vec<Follow> {
            self.all.take()
        }
    }

    fn micros(tempo: Tempo) -> i64 {
        i64::from(tempo.micros_per_quarter())
    }

    #[test]
    fn the_first_clock_after_a_start_is_beat_one() {
        let (mut told, mut follower, _) = follower();
        follower.heard(Nanos(5), START);
        assert_eq!(told.take(), [], "not before the clock");
        told.clocks(&mut follower, 1);
        assert_eq!(told.take(), [Follow::Start(Nanos(PERIOD), SONG)]);
        told.clocks(&mut follower, 24);
        let beats = told.take();
        let last = beats.last().copied();
        let Some(Follow::Beat { place, at, tempo }) = last else { panic!("{last:?}") };
        assert_eq!(place, Ticks::QUARTER, "24 clocks later");
        assert!((at.0 - 25 * PERIOD).abs() < 1000 && (micros(tempo) - 500_000).abs() < 10);
    }

    #[test]
    fn a_running_machine_is_a_tempo_and_its_start_has_that() {
        let (mut told, mut follower, outside) = follower();
        assert_eq!(outside.at(Nanos(0)), Outside::Awaited);
        told.clocks(&mut follower, 48);
        let heard = told.take();
        assert!(heard.len() > 5);
        assert!(heard.iter().all(|follow| matches!(follow, Follow::Beat { .. })), "{heard:?}");
        let Outside::Heard(Some(tempo)) = outside.at(Nanos(told.now)) else { panic!() };
        assert!((micros(tempo) - 500_000).abs() < 10);
        follower.heard(Nanos(told.now), START);
        told.clocks(&mut follower, 1);
        let start = told.take();
        let [Follow::Start(_, tempo)] = start[..] else { panic!("{start:?}") };
        assert!((micros(tempo) - 500_000).abs() < 10);
    }

    #[test]
    fn stop_is_told_once_and_what_follows_is_not() {
        let (mut told, mut follower, _) = follower();
        follower.heard(Nanos(0), START);
        told.clocks(&mut follower, 30);
        told.take();
        follower.heard(Nanos(told.now), STOP);
        follower.heard(Nanos(told.now), STOP);
        told.clocks(&mut follower, 30);
        assert_eq!(told.take(), [Follow::Stop]);
        // Thirty clocks were played, 0 to 29; the next is the thirty-first.
        follower.heard(Nanos(told.now), CONTINUE);
        told.clocks(&mut follower, 1);
        let there = told.take();
        let [Follow::Continue { place, at, .. }] = there[..] else { panic!("{there:?}") };
        assert_eq!((place, at), (CLOCK * 30, Nanos(told.now)));
    }

    #[test]
    fn a_position_counts_while_the_machine_stands() {
        let (mut told, mut follower, _) = follower();
        // 300 sixteenths: 44 + 2 * 128.
        follower.heard(Nanos(0), &[0xF2, 44, 2]);
        follower.heard(Nanos(0), CONTINUE);
        follower.heard(Nanos(0), &[0xF2, 1, 0]);
        told.clocks(&mut follower, 1);
        let there = told.take();
        let [Follow::Continue { place, .. }] = there[..] else { panic!("{there:?}") };
        assert_eq!(place, Ticks::QUARTER * 75, "four sixteenths a quarter");
        follower.heard(Nanos(told.now), &[0xF2, 0, 0]);
        follower.heard(Nanos(told.now), CONTINUE);
        told.clocks(&mut follower, 24);
        let beats = told.take();
        let Some(&Follow::Beat { place, .. }) = beats.last() else { panic!("{beats:?}") };
        assert_eq!(place, Ticks::QUARTER * 76, "it runs on");
        follower.heard(Nanos(told.now), STOP);
        follower.heard(Nanos(told.now), &[0xF2, 0, 0]);
        follower.heard(Nanos(told.now), CONTINUE);
        told.clocks(&mut follower, 1);
        let Some(Follow::Start(..)) = told.take().last().copied() else { panic!("from the top") };
    }

    #[test]
    fn what_is_lost_is_known_and_nothing_is_told() {
        let (mut told, mut follower, outside) = follower();
        follower.heard(Nanos(0), START);
        told.clocks(&mut follower, 100);
        told.take();
        assert!(matches!(outside.at(Nanos(told.now + 400_000_000)), Outside::Heard(Some(_))));
        assert!(matches!(outside.at(Nanos(told.now + 600_000_000)), Outside::Lost(Some(_))));
        // Two beats later it is back, and the song is two beats on.
        told.now += 47 * PERIOD;
        told.clocks(&mut follower, 7);
        assert!(matches!(outside.at(Nanos(told.now)), Outside::Heard(Some(_))));
        let back = told.take();
        let Some(&Follow::Beat { place, at, .. }) = back.last() else { panic!("{back:?}") };
        assert_eq!(place.get() % 240, 0);
        let clocks = place.get() / 40;
        assert!((at.0 - (clocks + 1) * PERIOD).abs() < 10_000, "{at:?} {clocks}");
    }

    #[test]
    fn other_messages_are_none_of_its_business() {
        let (told, mut follower, outside) = follower();
        for bytes in
            [&[0x90, 60, 100][..], &[0xF0, 1, 0xF7], &[0xFE], &[0xF2, 1], &[], &[0xC0, 5], &[0xFF]]
        {
            follower.heard(Nanos(7), bytes);
        }
        assert_eq!(told.take(), []);
        assert_eq!(outside.at(Nanos(7)), Outside::Awaited);
    }

    #[test]
    fn a_stop_without_room_is_told_later() {
        let full = Rc::new(RefCell::new(true));
        let sent = Rc::new(RefCell::new(Vec::new()));
        let (is_full, to) = (Rc::clone(&full), Rc::clone(&sent));
        let (mut follower, _) = Follower::new(SONG, move |follow| {
            if !*is_full.borrow() {
                to.borrow_mut().push(follow);
            }
            !*is_full.borrow()
        });
        follower.heard(Nanos(0), STOP);
        *full.borrow_mut() = false;
        follower.heard(Nanos(9), &[0xF8]);
        assert_eq!(*sent.borrow(), [Follow::Stop]);
    }
}
