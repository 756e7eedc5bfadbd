//! The playing thread with a clock that jumps and an output that writes down what it gets.

use std::sync::Arc;

use crate::common::effort::effort;
use crate::playing;
use crate::playing::{due, end, performance, play_through};
use openchair::live::{Clock, Control, FakeClock, PlayError, PlayReport};
use openchair::perform::{Message, Performance};
use openchair::sink::{AT_ONCE, MidiOut, Recorder, Recording};
use openchair::time::Nanos;
use proptest::prelude::*;

const MILLI: i64 = 1_000_000;

/// How an output takes messages: at their time, or so long ahead and in such periods.
const KINDS: [(Nanos, Nanos); 3] = [
    (Nanos(0), Nanos(0)),
    (Nanos(105 * MILLI), Nanos(3 * MILLI)),
    (Nanos(480 * MILLI), Nanos(190 * MILLI)),
];

/// Plays with a stop at `stop_at` (if any) and an output that `adjust` has made to fail.
fn played(
    performance: &Performance,
    (ahead, period): (Nanos, Nanos),
    late: Nanos,
    stop_at: Option<Nanos>,
    adjust: impl FnOnce(Recorder) -> Recorder,
) -> (Result<PlayReport, PlayError>, Recording, Arc<FakeClock>) {
    let control = Control::new();
    let stop = control.clone();
    let clock = FakeClock::watched(move |now| {
        if stop_at.is_some_and(|at| now >= at) {
            stop.stop();
        }
    });
    let clock = Arc::new(clock.late_by(late));
    let its_clock = Arc::clone(&clock);
    let recorder = Recorder::new(due(performance).len() + 100, move || its_clock.now());
    let recorder = adjust(recorder.scheduling(ahead, period));
    let recording = recorder.recording();
    let result = play_through(performance, Box::new(recorder), clock.as_ref(), &control);
    (result, recording, clock)
}

#[test]
fn every_message_once_in_order_and_never_early() {
    let performance = performance(7, 40);
    let (due, end) = (due(&performance), end(&performance));
    for kind in KINDS {
        for late in [Nanos(0), Nanos(3 * MILLI)] {
            let (result, recording, clock) = played(&performance, kind, late, None, |it| it);
            let report = result.unwrap();
            let sent = recording.sent();
            let start = sent[0].due.0 - due[0].at.0;
            assert_eq!(report.sent, sent.len());
            assert_eq!(sent.len(), due.len());
            for (sent, wanted) in sent.iter().zip(&due) {
                assert_eq!(sent.message, wanted.message);
                assert_eq!(sent.due.0, start + wanted.at.0);
                assert!(sent.at.0 >= sent.due.0 - kind.0.0, "nothing is sent before its time");
                assert!(sent.at.0 <= sent.due.0 - kind.0.0 + late.0, "nor after");
            }
            assert!(!report.stopped && recording.is_closed());
            assert!(report.latest <= late);
            assert!(clock.now().0 >= start + end.0, "the last bar is played out");
        }
    }
}

#[test]
fn each_channel_has_its_sound_before_its_first_note() {
    let (_, recording, _) = played(&performance(1, 4), KINDS[0], Nanos(0), None, |it| it);
    let sent = recording.sent();
    let notes = sent.iter().position(|it| matches!(it.message, Message::NoteOn { .. })).unwrap();
    let set_up = &sent[..notes];
    assert_eq!(set_up.len(), 9, "program, volume and pan of three roles");
    assert!(set_up.iter().all(|it| !matches!(it.message, Message::NoteOff { .. })));
    // A MIDI cable carries 31,250 bits a second, ten bits a byte (MIDI 1.0 Detailed Specification).
    let bytes: usize = set_up.iter().map(|it| it.message.bytes().1).sum();
    let on_the_wire = Nanos(bytes as i64 * 10 * 1_000_000_000 / 31_250);
    let first_note = sent[notes].at;
    assert!(first_note.0 - set_up[0].at.0 > 2 * on_the_wire.0, "it has gone out by then");
}

#[test]
fn three_hours_pass_without_drift() {
    // 1.6 s a bar.
    let performance = performance(3, 3 * 3600 * 10 / 16);
    let due = due(&performance);
    assert!(end(&performance).seconds() > 10_700.0);
    let before = effort();
    let (result, recording, _) = played(&performance, KINDS[0], Nanos(0), None, |it| it);
    assert_eq!(result.unwrap().sent, due.len());
    let sent = recording.sent();
    let (first, last) = (sent[0], sent[sent.len() - 1]);
    assert_eq!(last.at.0 - first.at.0, due[due.len() - 1].at.0 - due[0].at.0);
    let took = effort() - before;
    assert!(took.as_secs() < 10, "took {took:?}");
}

#[test]
fn a_stop_is_seen_within_10_ms_in_a_long_rest() {
    let performance = playing::long_rest();
    for kind in KINDS {
        let stop_at = Nanos(20_123 * MILLI);
        let (result, recording, clock) =
            played(&performance, kind, Nanos(0), Some(stop_at), |it| it);
        assert!(result.unwrap().stopped);
        assert!(recording.sounding().is_empty());
        assert!(clock.now().0 - stop_at.0 <= 10 * MILLI, "{:?}", clock.now());
    }
}

#[test]
fn a_port_that_is_full_for_a_moment_still_gets_every_note_off() {
    let performance = performance(5, 8);
    let fails = 100..103;
    let (result, recording, _) =
        played(&performance, KINDS[0], Nanos(0), None, |it| it.failing(fails));
    assert!(matches!(result, Err(PlayError::Port(_))));
    assert!(recording.sounding().is_empty());
}

#[test]
fn a_stopped_performance_moves_the_position_no_further() {
    let performance = performance(5, 8);
    let control = Control::new();
    control.stop();
    let clock = Arc::new(FakeClock::new());
    let its_clock = Arc::clone(&clock);
    let recorder = Recorder::new(0, move || its_clock.now());
    let recording = recorder.recording();
    let report = play_through(&performance, Box::new(recorder), clock.as_ref(), &control).unwrap();
    assert_eq!((report.sent, report.stopped), (0, true));
    assert_eq!(control.position(), Nanos(0));
    assert!(recording.sent().is_empty() && recording.is_closed());
}

#[test]
fn the_position_follows_the_clock() {
    let performance = performance(5, 8);
    let control = Control::new();
    let seen = control.clone();
    let behind = Arc::new(std::sync::atomic::AtomicI64::new(0));
    let worst = Arc::clone(&behind);
    let clock = Arc::new(FakeClock::watched(move |now| {
        // Playing starts 0.1 s into the clock, after the set-up.
        let position = (now.0 - 100 * MILLI).max(0);
        worst.fetch_max(position - seen.position().0, std::sync::atomic::Ordering::Relaxed);
    }));
    let its_clock = Arc::clone(&clock);
    let recorder = Recorder::new(0, move || its_clock.now());
    play_through(&performance, Box::new(recorder), clock.as_ref(), &control).unwrap();
    assert_eq!(control.position(), end(&performance));
    assert!(behind.load(std::sync::atomic::Ordering::Relaxed) <= 10 * MILLI);
}

/// Printing a backtrace for each of thousands of wanted panics would take most of the time.
fn hide_wanted_panics() {
    static ONCE: std::sync::Once = std::sync::Once::new();
    ONCE.call_once(|| {
        let others = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            let text = info.payload().downcast_ref::<&str>();
            if !text.is_some_and(|text| text.contains("told to panic")) {
                others(info);
            }
        }));
    });
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(1500) })]

    #[test]
    fn no_note_is_stuck_wherever_it_is_stopped(
        seed in any::<u64>(),
        stop_at in 0i64..8_000_000_000,
        late in 0i64..8_000_000,
        kind in 0usize..3,
    ) {
        let performance = performance(seed, 4);
        let (result, recording, clock) =
            played(&performance, KINDS[kind], Nanos(late), Some(Nanos(stop_at)), |it| it);
        let report = result.unwrap();
        prop_assert!(recording.sounding().is_empty(), "{:?}", recording.sounding());
        prop_assert!(recording.is_closed());
        if report.stopped {
            let seen = clock.now().0 - stop_at;
            prop_assert!(seen <= 10 * MILLI + 2 * late, "seen after {seen} ns");
            // A server may hold some messages for good; past those comes no new note.
            let offs = recording.sent().into_iter().skip_while(|sent| sent.due != AT_ONCE);
            for sent in offs {
                let is_off = matches!(sent.message, Message::NoteOff { .. });
                prop_assert!(is_off, "{sent:?}");
            }
        }
    }

    #[test]
    fn a_failing_port_is_a_clear_error_and_never_a_panic(
        seed in any::<u64>(),
        fails_at in 0usize..300,
        lasts in prop_oneof![Just(1usize), Just(5), Just(usize::MAX / 2)],
        kind in 0usize..3,
    ) {
        let performance = performance(seed, 4);
        let count = due(&performance).len();
        let fails = fails_at..fails_at + lasts;
        let (result, recording, _) =
            played(&performance, KINDS[kind], Nanos(0), None, |it| it.failing(fails));
        prop_assert!(recording.is_closed());
        if fails_at < count {
            let message = result.unwrap_err().to_string();
            prop_assert!(message.contains("took no more messages"), "{message}");
            if lasts <= 5 {
                prop_assert!(recording.sounding().is_empty());
            }
        } else {
            prop_assert!(result.is_ok());
        }
    }

    #[test]
    fn a_panic_in_the_playing_thread_still_damps_every_note(
        seed in any::<u64>(),
        panics_at in 0usize..200,
        kind in 0usize..3,
    ) {
        let performance = performance(seed, 4);
        let count = due(&performance).len();
        hide_wanted_panics();
        let (result, recording, _) =
            played(&performance, KINDS[kind], Nanos(0), None, |it| it.panicking(panics_at));
        prop_assert_eq!(result.is_err(), panics_at < count);
        prop_assert!(recording.sounding().is_empty());
        prop_assert!(recording.is_closed());
    }
}

#[test]
fn an_output_is_any_type_that_keeps_the_contract() {
    // The trait is used as an object from another thread: this compiles only if it can be.
    fn takes(_: Box<dyn MidiOut>) {}
    takes(Box::new(Recorder::new(0, || Nanos(0))));
}
