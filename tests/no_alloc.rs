//! The playing loop and both ends of the frame queue ask the allocator for nothing. The allocator of
//! this test ends the process if they do.

mod playing;

use std::sync::{Arc, Mutex};

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use openchair::chart::{Role, RoleSet};
use openchair::live::{
    Action, Clock, Command, Control, Entry, FakeClock, Follow, Follower, MonotonicClock, Outside,
    PedalMap, Pedals, Score, Settings, Slot, Supply, Trigger, ear, engine,
};
use openchair::practice::Chairs;
use openchair::sink::{AT_ONCE, Cycle, Recorder, frame_queue};
use openchair::time::{Nanos, Tempo, Ticks};
use playing::show::{arrangement, performed};

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

/// Everything that the playing thread can be told.
fn every_command() -> Vec<Command> {
    let song = arrangement("| G | C / D / | G | D |", "tempo = 150").excerpt(1..=4, 2).unwrap();
    let score = || Box::new(Score::new(1, &song, &performed(&song)));
    let tempo = Tempo::from_micros(450_000);
    let at = |second: i64| Nanos(second * 1_000_000_000);
    let place = Ticks::new(3000);
    let play = |at, from| Command::Play { score: score(), at, from, tempo: Some(tempo) };
    vec![
        Command::Chairs(Chairs::Surprise { seed: 3, announced: false }),
        Command::CountIn(1),
        Command::ChangeClicks(true),
        Command::Tempo(tempo),
        Command::Mute(RoleSet::EMPTY.with(Role::Bass)),
        Command::Jump(3),
        play(Entry::BarLine, None),
        play(Entry::Round, Some(2)),
        play(Entry::BarLine, Some(4)),
        Command::Mute(RoleSet::EMPTY),
        Command::Rounds(Some(1000)),
        Command::CountIn(2),
        Command::Pause,
        play(Entry::BarLine, None),
        Command::Go,
        Command::Silence,
        Command::Go,
        Command::Follow(Follow::Start(at(26), tempo)),
        Command::Follow(Follow::Beat { place, at: at(28), tempo }),
        Command::Follow(Follow::Continue { place, at: at(30), tempo }),
        Command::Follow(Follow::Beat { place: Ticks::new(30_000), at: at(32), tempo }),
        Command::Follow(Follow::Stop),
        Command::Go,
        Command::Rounds(None),
        Command::End,
    ]
}

#[test]
fn nor_does_it_whatever_it_is_told() {
    for ahead in [0, 105_000_007] {
        let commands: Vec<Option<Command>> = every_command().into_iter().map(Some).collect();
        let of = arrangement("| G | C / D / | G | D |", "tempo = 120").excerpt(1..=4, 2).unwrap();
        let score = Box::new(Score::new(0, &of, &performed(&of)));
        let settings = Settings { score, tempo: of.tempo, clock: Some(Nanos(0)), plays_on: true };
        let (mut engine, ends) = engine(settings);
        let ends = Arc::new(Mutex::new(ends));
        let told = Arc::clone(&ends);
        let asked = Arc::new(Mutex::new((0, None, commands)));
        let its_asked = Arc::clone(&asked);
        // A command every 1.5 s; in between another output.
        let clock = Arc::new(FakeClock::watched(move |now| {
            let (mut asked, mut ends) = (its_asked.lock().unwrap(), told.lock().unwrap());
            if now.0 >= asked.0 as i64 * 1_500_000_000 && asked.0 < asked.2.len() {
                let number = asked.0;
                if let Some(command) = asked.2[number].take() {
                    ends.remote.send(command).unwrap();
                }
                asked.0 += 1;
                if let Some(supply) = asked.1.take_if(|_| now.0 > 20_000_000_000) {
                    assert!(ends.door.supplies.push(supply).is_ok());
                }
            }
        }));
        let recorder = || {
            let its_clock = Arc::clone(&clock);
            let recorder = Recorder::new(20_000, move || its_clock.now());
            Box::new(recorder.scheduling(Nanos(ahead), Nanos(ahead / 35)))
        };
        let (first, second) = (recorder(), recorder());
        let recordings = [first.recording(), second.recording()];
        engine.install(Supply { slot: Slot::Port, out: first });
        asked.lock().unwrap().1 = Some(Supply { slot: Slot::Port, out: second });
        let control = Control::new();
        let report = assert_no_alloc(|| engine.play(clock.as_ref(), &control)).unwrap();
        assert!(report.stopped && report.sent > 800, "{report:?}");
        for recording in &recordings {
            assert!(recording.sent().len() > 300);
            assert_eq!(recording.sounding(), []);
        }
        let mut ends = ends.lock().unwrap();
        assert!(ends.remote.next_status().is_some());
        assert!(ends.door.lost.pop().is_ok(), "the first output has come back");
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
        clock: None,
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

#[test]
fn hearing_a_player_allocates_nothing() {
    let (mut ear, mut hearing) = ear();
    let mut map = PedalMap::new();
    map.teach(Trigger::Note { channel: 9, note: 36 }, Action::PauseOrGo);
    ear.leave_out(map);
    assert_no_alloc(|| {
        // Past what there is room for, too.
        for at in 0..10_000 {
            for bytes in [&[0x90, 50, 80][..], &[0x99, 36, 1], &[0xF8], &[0x80, 50, 64]] {
                ear.hear(Nanos(at), bytes);
            }
        }
    });
    let heard = std::iter::from_fn(|| hearing.take()).count() as u64;
    assert_eq!(heard + hearing.missed(), 20_000);
    assert!(hearing.missed() > 0);
}
