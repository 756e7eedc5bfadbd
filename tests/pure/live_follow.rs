//! Following an outside clock: where the band's own clock is, held against the outside's without its
//! jitter. In made-up time, and through a real JACK server.

use std::io::Write;
use std::sync::{Arc, Mutex};

use crate::playing;
use openchair::live::{
    Control, FakeClock, Follow, FollowSender, Follower, Score, Settings, Slot, Supply, engine,
};
use openchair::perform::{Message, Sync};
use openchair::sink::Recorder;
use openchair::time::Nanos;
use rand_core::Rng;
use rand_pcg::Pcg32;

const BEAT: usize = 24;
const TWO_BARS: usize = 8 * BEAT;
/// MIDI 1.0.
const CLOCK: u8 = 0xF8;

/// Past the test runner, which swallows what a passing test prints by a macro.
fn say(what: &str) {
    _ = writeln!(std::io::stderr(), "{what}");
}

/// The times of an outside machine's clocks, without jitter and with 2 ms of it either way.
fn machine(seed: u64, start: i64, periods: &[(usize, f64)]) -> Vec<(i64, i64)> {
    let mut random = Pcg32::new(seed, 3);
    let (mut time, mut latest) = (start as f64, 0);
    let mut clocks = Vec::new();
    for &(count, period) in periods {
        for _ in 0..count {
            let late = (f64::from(random.next_u32()) / f64::from(u32::MAX) * 2.0 - 1.0) * 2e6;
            latest = (latest + 1).max((time + late) as i64);
            clocks.push((time as i64, latest));
            time += period;
        }
    }
    clocks
}

fn period(beats_a_minute: f64) -> f64 {
    60e9 / beats_a_minute / BEAT as f64
}

/// What a machine sends, and when: before its first clock a start, after its last a stop.
struct Wire {
    clocks: Vec<i64>,
    sent: usize,
    follower: Follower<Box<dyn FnMut(Follow) -> bool + Send>>,
}

impl Wire {
    fn until(&mut self, now: Nanos) -> bool {
        if self.sent == 0 {
            self.follower.heard(Nanos(0), &[0xFA]);
        }
        while let Some(&at) = self.clocks.get(self.sent).filter(|at| **at <= now.0) {
            self.follower.heard(Nanos(at), &[CLOCK]);
            self.sent += 1;
        }
        self.sent == self.clocks.len()
    }
}

/// The same where all clocks are heard.
fn all_followed(clocks: &[(i64, i64)], ahead: Nanos) -> Vec<f64> {
    followed(clocks, clocks.iter().map(|clock| clock.1).collect(), ahead)
}

/// Errors of the band's clocks in milliseconds, one for each of the outside's, of which it hears those
/// times.
fn followed(clocks: &[(i64, i64)], heard: Vec<i64>, ahead: Nanos) -> Vec<f64> {
    let performance = playing::performance(3, 60);
    let (mut engine, ends) = engine(Settings {
        score: Box::new(Score::whole(0, &performance)),
        tempo: performance.tempo,
        clock: Some(Nanos(0)),
        plays_on: false,
    });
    let mut sender: FollowSender = ends.follow;
    let send: Box<dyn FnMut(Follow) -> bool + Send> = Box::new(move |follow| sender.send(follow));
    let (follower, _) = Follower::new(performance.tempo, send);
    let wire = Mutex::new(Wire { clocks: heard, sent: 0, follower });
    let control = Control::new();
    let stop = control.clone();
    let clock = Arc::new(FakeClock::watched(move |now| {
        if wire.lock().unwrap().until(now) {
            stop.stop();
        }
    }));
    let its_clock = Arc::clone(&clock);
    let now = move || openchair::live::Clock::now(its_clock.as_ref());
    let recorder = Recorder::new(100_000, now).scheduling(ahead, Nanos(3_000_000));
    let recording = recorder.recording();
    engine.install(Supply { slot: Slot::Port, out: Box::new(recorder) });
    engine.run(clock.as_ref(), &control).unwrap();
    let mut started = false;
    let mut errors = Vec::new();
    for sent in recording.sent() {
        match sent.message {
            Message::Sync(Sync::Start) => started = true,
            Message::Sync(Sync::Clock) if started => {
                let Some(clock) = clocks.get(errors.len()) else { break };
                errors.push((sent.due.0 - clock.0) as f64 / 1e6);
            }
            Message::Sync(Sync::Stop) => started = false,
            _ => {}
        }
    }
    assert!(recording.sounding().is_empty());
    assert!(errors.len() + BEAT > clocks.len(), "{} of {}", errors.len(), clocks.len());
    errors
}

/// The 99th of a hundred and the largest.
fn worst(errors: &[f64]) -> (f64, f64) {
    let mut sizes: Vec<f64> = errors.iter().map(|error| error.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    (sizes[(sizes.len() - 1) * 99 / 100], sizes[sizes.len() - 1])
}

#[test]
fn the_band_is_with_a_steady_clock_after_two_bars() {
    for ahead in [Nanos(0), Nanos(105_000_000)] {
        for beats_a_minute in [60.0, 90.0, 120.0, 160.0, 200.0] {
            let clocks = machine(
                beats_a_minute as u64,
                500_000_000,
                &[(3 * TWO_BARS, period(beats_a_minute))],
            );
            let errors = all_followed(&clocks, ahead);
            let (p99, most) = worst(&errors[TWO_BARS..]);
            say(&format!(
                "steady at {beats_a_minute}, {} ms ahead: beat error p99 {p99:.2} ms, most {most:.2}",
                ahead.0 / 1_000_000
            ));
            assert!(most < 5.0);
        }
    }
}

#[test]
fn a_step_of_a_tenth_is_followed_within_two_beats() {
    for ahead in [Nanos(0), Nanos(105_000_000)] {
        for beats_a_minute in [60.0, 120.0, 200.0] {
            for step in [1.1, 0.9] {
                let (before, after) = (period(beats_a_minute), period(beats_a_minute * step));
                let clocks = machine(7, 500_000_000, &[(TWO_BARS + 7, before), (TWO_BARS, after)]);
                let errors = all_followed(&clocks, ahead);
                let since = &errors[TWO_BARS + 7..];
                let late = since.iter().rposition(|error| error.abs() > 5.0);
                let beats = late.map_or(0.0, |last| (last + 1) as f64 / BEAT as f64);
                let (_, most) = worst(since);
                say(&format!(
                    "{beats_a_minute} times {step}, {} ms ahead: within 5 ms after {beats:.2} beats; \
                     at most {most:.1} ms off",
                    ahead.0 / 1_000_000
                ));
                assert!(beats <= 2.0);
            }
        }
    }
}

#[test]
fn a_clock_that_stops_coming_leaves_the_tempo() {
    let clocks = machine(4, 500_000_000, &[(2 * TWO_BARS, period(120.0))]);
    let mut heard: Vec<i64> = clocks.iter().map(|clock| clock.1).collect();
    // Two bars, two beats that are not heard, and another bar and a half.
    heard.drain(TWO_BARS..TWO_BARS + 2 * BEAT);
    let errors = followed(&clocks, heard, Nanos(0));
    let (_, most) = worst(&errors[TWO_BARS..]);
    say(&format!("two beats lost: beat error at most {most:.2} ms"));
    assert!(most < 5.0);
}
