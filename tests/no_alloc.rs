//! The playing loop and both ends of the frame queue ask the allocator for nothing. The allocator of
//! this test ends the process if they do.

mod playing;

use std::sync::Arc;

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use openchair::live::{
    Action, Clock, Control, FakeClock, Follower, MonotonicClock, Outside, PedalMap, Pedals, Score,
    Settings, Trigger,
};
use openchair::sink::{AT_ONCE, Cycle, Recorder, frame_queue};
use openchair::time::{Nanos, Tempo};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

#[test]
fn the_playing_loop_allocates_nothing() {
    let performance = playing::performance(2, 200);
    let count = playing::due(&performance).len();
    for ahead in [Nanos(0), Nanos(105_000_000)] {
        for stop_at in [i64::MAX, 100_000_000_000] {
            let control = Control::new();
            let stop = control.clone();
            let clock = Arc::new(FakeClock::watched(move |now| {
                if now.0 >= stop_at {
                    stop.stop();
                }
            }));
            let its_clock = Arc::clone(&clock);
            let recorder = Recorder::new(count + 100, move || its_clock.now());
            let recorder = recorder.scheduling(ahead, Nanos(3_000_000));
            let recording = recorder.recording();
            let mut engine = playing::ready(&performance, Box::new(recorder));
            let report = assert_no_alloc(|| engine.play(clock.as_ref(), &control)).unwrap();
            assert_eq!(report.stopped, stop_at != i64::MAX);
            assert!(report.sent > 1000);
            assert!(recording.sounding().is_empty());
        }
    }
}

#[test]
fn nor_does_it_with_the_real_clock() {
    let performance = playing::performance(2, 2);
    let count = playing::due(&performance).len();
    let clock = MonotonicClock::new();
    let recorder = Recorder::new(count, move || clock.now());
    let recording = recorder.recording();
    let mut engine = playing::ready(&performance, Box::new(recorder));
    let control = Control::new();
    let report = assert_no_alloc(|| engine.play(&clock, &control)).unwrap();
    assert_eq!(report.sent, count);
    for sent in recording.sent() {
        assert!(sent.at >= sent.due, "nothing is sent before its time");
    }
}

#[test]
fn neither_end_of_the_frame_queue_allocates() {
    let message = playing::due(&playing::performance(2, 2))[0].message;
    let (mut queue, mut writer) = frame_queue(48_000);
    let mut written = 0;
    assert_no_alloc(|| {
        for index in 0..100_000u32 {
            let starts_at = Nanos(i64::from(index) * 2_666_667);
            assert!(queue.push(Nanos(starts_at.0 + 20_000_000), message));
            let cycle = Cycle { first_frame: index * 128, frames: 128, starts_at };
            writer.cycle(cycle, |_, _| {
                written += 1;
                true
            });
            if index % 1000 == 0 {
                queue.take_back(AT_ONCE);
                assert!(queue.push(AT_ONCE, message));
            } else if index % 50 == 0 {
                queue.take_back(Nanos(starts_at.0 + 15_000_000));
            }
        }
    });
    assert!(written > 90_000, "{written}");
}

#[test]
fn following_a_clock_and_hearing_pedals_allocates_nothing() {
    let (engine, ends) = openchair::live::engine(Settings {
        score: Box::new(Score::whole(0, &playing::performance(2, 2))),
        tempo: Tempo::from_micros(500_000),
        clock: false,
        plays_on: false,
    });
    let mut sender = ends.follow;
    let mut told = 0;
    let (mut follower, outside) = Follower::new(Tempo::from_micros(500_000), |follow| {
        told += 1;
        sender.send(follow)
    });
    let mut map = PedalMap::new();
    map.teach(Trigger::Note { channel: 9, note: 36 }, Action::PauseOrGo);
    let mut pedals = Pedals::new(&map);
    let mut pressed = 0;
    assert_no_alloc(|| {
        let mut at = 0;
        for index in 0..20_000_i64 {
            // Now and then another tempo, a gap, a start, a stop, a position.
            at += if index % 2000 == 1999 {
                3_000_000_000
            } else {
                15_000_000 + index / 500 * 500_000
            };
            follower.heard(Nanos(at), &[0xF8]);
            match index % 700 {
                0 => follower.heard(Nanos(at), &[0xFA]),
                400 => follower.heard(Nanos(at), &[0xFC]),
                401 => follower.heard(Nanos(at), &[0xF2, 9, 1]),
                402 => follower.heard(Nanos(at), &[0xFB]),
                _ => {}
            }
            pressed += i32::from(pedals.heard(Nanos(at), &[0x99, 36, 1]).is_some());
        }
    });
    assert!(matches!(outside.at(Nanos(0)), Outside::Heard(Some(_))));
    drop(follower);
    assert!(told > 1000 && pressed > 5000, "{told} {pressed}");
    drop(engine);
}
