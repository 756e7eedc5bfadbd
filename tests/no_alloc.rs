//! The playing loop and both ends of the frame queue ask the allocator for nothing. The allocator of
//! this test ends the process if they do.

mod playing;

use std::sync::Arc;

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use openchair::live::{Clock, Control, FakeClock, MonotonicClock, Schedule, run};
use openchair::sink::{AT_ONCE, Cycle, Recorder, frame_queue};
use openchair::time::Nanos;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

#[test]
fn the_playing_loop_allocates_nothing() {
    let schedule = Schedule::new(&playing::performance(2, 200));
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
            let recorder = Recorder::new(schedule.due().len() + 100, move || its_clock.now());
            let mut recorder = recorder.scheduling(ahead, Nanos(3_000_000));
            let report =
                assert_no_alloc(|| run(&schedule, &mut recorder, clock.as_ref(), &control));
            let report = report.unwrap();
            assert_eq!(report.stopped, stop_at != i64::MAX);
            assert!(report.sent > 1000);
            assert!(recorder.recording().sounding().is_empty());
        }
    }
}

#[test]
fn nor_does_it_with_the_real_clock() {
    let schedule = Schedule::new(&playing::performance(2, 2));
    let clock = MonotonicClock::new();
    let mut recorder = Recorder::new(schedule.due().len(), move || clock.now());
    let control = Control::new();
    let report = assert_no_alloc(|| run(&schedule, &mut recorder, &clock, &control)).unwrap();
    assert_eq!(report.sent, schedule.due().len());
    for sent in recorder.recording().sent() {
        assert!(sent.at >= sent.due, "nothing is sent before its time");
    }
}

#[test]
fn neither_end_of_the_frame_queue_allocates() {
    let message = Schedule::new(&playing::performance(2, 2)).due()[0].message;
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
