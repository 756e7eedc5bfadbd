use proptest::prelude::*;

use super::*;
use crate::theory::MidiNote;

const RATE: u32 = 48_000;
const PERIOD: u32 = 128;
const SECOND: i128 = 1_000_000_000;

fn on(pitch: u8) -> Message {
    let pitch = MidiNote::new(pitch).unwrap();
    Message::NoteOn { channel: 0, pitch, velocity: 64 }
}

/// A server whose device runs `drift` parts in a million fast, from frame `first` on.
struct Server {
    first: u32,
    count: i64,
    drift: i64,
}

impl Server {
    fn new(drift: i64) -> Self {
        // So near the end that the count of frames wraps around in every test.
        Self { first: u32::MAX - 1000, count: 0, drift }
    }

    fn next(&mut self, jitter: i64) -> Cycle {
        let nominal = i128::from(self.count) * SECOND / i128::from(RATE);
        let starts = nominal * 1_000_000 / i128::from(1_000_000 + self.drift);
        let cycle = Cycle {
            first_frame: self.first.wrapping_add(self.count as u32),
            frames: PERIOD,
            starts_at: Nanos(starts as i64 + jitter),
        };
        self.count += i64::from(PERIOD);
        cycle
    }
}

/// Plays a note every 10.37 ms, queued 20 ms ahead, and gives the frame of each.
fn play(server: &mut Server, seconds: i64, mut jitter: impl FnMut() -> i64) -> Vec<i64> {
    let (mut queue, mut writer) = frame_queue(RATE);
    let mut frames = Vec::new();
    // Later than the first period by more than any jitter.
    let mut next = Nanos(5_000_000);
    while server.count < seconds * i64::from(RATE) {
        let base = server.count;
        let cycle = server.next(jitter());
        while next.0 < cycle.starts_at.0 + 20_000_000 {
            assert!(queue.push(next, on(60)));
            next.0 += 10_370_000;
        }
        writer.cycle(cycle, |offset, _| {
            assert!(offset < PERIOD);
            frames.push(base + i64::from(offset));
            true
        });
    }
    assert_eq!(queue.late(), 0);
    frames
}

fn nominal(index: usize) -> i64 {
    (index as i64 * 10_370_000 * i64::from(RATE) + 500_000_000) / 1_000_000_000
}

#[test]
fn a_steady_server_gets_every_message_on_its_exact_frame() {
    // Period starts known to half a millisecond only, as on a busy machine.
    let mut state = 1u32;
    let jitter = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        i64::from(state % 1_000_000) - 500_000
    };
    let frames = play(&mut Server::new(0), 600, jitter);
    assert!(frames.len() > 57_000);
    for (index, frame) in frames.iter().enumerate() {
        assert_eq!(frame - frames[0], nominal(index), "message {index}");
    }
}

#[test]
fn a_drifting_device_is_followed_without_jumps() {
    for drift in [-150, 150] {
        let frames = play(&mut Server::new(drift), 3 * 3600, || 0);
        for (index, pair) in frames.windows(2).enumerate() {
            let expected = nominal(index + 1) - nominal(index);
            assert!((pair[1] - pair[0] - expected).abs() <= 1, "message {index}");
        }
        let last = frames.len() - 1;
        let true_frame = nominal(last) as f64 * (1.0 + drift as f64 * 1e-6);
        let off = (frames[last] - frames[0]) as f64 - true_frame;
        assert!(off.abs() < 0.003 * f64::from(RATE), "{drift}: off by {off} frames");
    }
}

/// A server that stood still for a moment has lost time. The band is back in time with the clock, and so with whoever
/// plays to it, within a fifth of a second.
#[test]
fn lost_time_is_made_up_at_once() {
    const LOST: i64 = 44_000_000;
    let (mut queue, mut writer) = frame_queue(RATE);
    let mut server = Server::new(0);
    let mut next = 5_000_000;
    let mut off = Vec::new();
    while server.count < 4 * i64::from(RATE) {
        let base = server.count;
        let lost = if base > i64::from(RATE) { LOST } else { 0 };
        let cycle = server.next(lost);
        while next < cycle.starts_at.0 + 20_000_000 {
            // Which note it is stands in its pitch.
            assert!(queue.push(Nanos(next), on((next / 10_000_000 % 100) as u8)));
            next += 10_000_000;
        }
        writer.cycle(cycle, |offset, bytes| {
            let sounds = cycle.starts_at.0 + i64::from(offset) * 1_000_000_000 / i64::from(RATE);
            let due = i64::from(bytes[1]) * 10_000_000 + 5_000_000;
            let late = (sounds - due + 500_000_000).rem_euclid(1_000_000_000) - 500_000_000;
            off.push((sounds, late));
            true
        });
    }
    let before = off.iter().filter(|(at, _)| *at < 1_000_000_000);
    assert!(before.clone().count() > 90 && before.clone().all(|(_, late)| late.abs() < 50_000));
    let after = off.iter().filter(|(at, _)| *at > 1_250_000_000);
    assert!(after.clone().count() > 200 && after.clone().all(|(_, late)| late.abs() < 2_000_000));
    // And not twice.
    assert!(off.len() > 380 && off.len() < 405, "{}", off.len());
}

/// What wavers is no lost time: a busy machine's word for when a period starts is off now and then.
#[test]
fn what_wavers_is_not_followed() {
    let mut server = Server::new(0);
    let mut calls = 0;
    // Six periods are told 6 ms late, and six as much early.
    let frames = play(&mut server, 20, || {
        calls += 1;
        if calls < 400 {
            0
        } else if calls % 12 < 6 {
            6_000_000
        } else {
            -6_000_000
        }
    });
    let steps: Vec<i64> = frames.windows(2).map(|pair| pair[1] - pair[0]).collect();
    assert!(steps.iter().all(|step| (497..=499).contains(step)), "{steps:?}");
}

#[test]
fn the_guard_is_as_short_as_the_map_is_true() {
    let (mut queue, mut writer) = frame_queue(RATE);
    let period = |frames: i64| frames * 1_000_000_000 / i64::from(RATE);
    // Not known yet: as much as the map tolerates.
    assert_eq!(queue.guard(128).0, 2 * period(128) + 2_500_000);
    let mut server = Server::new(0);
    assert!(queue.push(Nanos(0), on(60)));
    for _ in 0..1000 {
        writer.cycle(server.next(0), |_, _| true);
    }
    let short = queue.guard(128).0 - (2 * period(128) + 500_000);
    assert!((0..1000).contains(&short), "{short}");
    // Of long periods only one counts in full.
    assert!((0..1000).contains(&(queue.guard(1024).0 - (period(1024) + 3_500_000))));
    // A server that tells a time that is all wrong, for once, may be right: as far as is tolerated.
    writer.cycle(server.next(-1_000_000), |_, _| true);
    assert!(queue.guard(128).0 >= 2 * period(128) + 1_479_000);
    writer.cycle(server.next(-50_000_000), |_, _| true);
    assert_eq!(queue.guard(128).0, 2 * period(128) + 2_500_000);
    for _ in 0..640 {
        writer.cycle(server.next(0), |_, _| true);
    }
    let forgotten = queue.guard(128).0 - (2 * period(128) + 500_000);
    assert!((0..1000).contains(&forgotten), "{forgotten}");
    // One that has lost time is late with all, so there is so much more time to take back in.
    let usual = queue.guard(128);
    for _ in 0..640 {
        writer.cycle(server.next(1_500_000), |_, _| true);
    }
    let longer = usual.0 - queue.guard(128).0 - 1_500_000;
    assert!(longer.abs() < 25_000, "{longer}");
}

#[test]
fn what_is_past_goes_out_at_once_or_not_at_all_and_is_counted() {
    let (mut queue, mut writer) = frame_queue(RATE);
    let mut server = Server::new(0);
    assert!(queue.push(Nanos(0), on(60)));
    assert!(queue.push(Nanos(1_000_000), on(61)));
    assert!(queue.push(Nanos(1_000_000_000), on(62)));
    let pitch = MidiNote::new(62).unwrap();
    assert!(queue.push(Nanos(1_500_000_000), Message::NoteOff { channel: 0, pitch }));
    assert!(queue.push(Nanos(1_950_000_000), on(63)));
    writer.cycle(server.next(0), |_, _| true);
    // The server skips two seconds.
    server.count += 2 * i64::from(RATE);
    let mut got = Vec::new();
    writer.cycle(server.next(0), |offset, bytes| {
        got.push((offset, bytes.to_vec()));
        true
    });
    // The note that should have begun a second ago does not begin; its end hurts nobody.
    assert_eq!(got, [(0, vec![0x80, 62, 64]), (0, vec![0x90, 63, 64])]);
    assert_eq!(queue.late(), 3);
}

#[test]
fn what_is_taken_back_never_goes_out_but_what_follows_does() {
    let (mut queue, mut writer) = frame_queue(RATE);
    let mut server = Server::new(0);
    let mut got = Vec::new();
    assert!(queue.push(Nanos(0), on(60)) && queue.push(Nanos(50_000_000), on(61)));
    writer.cycle(server.next(0), |_, bytes| {
        got.push(bytes[1]);
        true
    });
    queue.take_back(AT_ONCE);
    assert!(queue.push(AT_ONCE, on(62)));
    for _ in 0..50 {
        writer.cycle(server.next(0), |_, bytes| {
            got.push(bytes[1]);
            true
        });
    }
    // The 60 in between is its end: it sounded.
    assert_eq!(got, [60, 60, 62]);
    assert_eq!((queue.late(), queue.is_empty()), (0, true));
}

#[test]
fn a_full_period_leaves_the_rest_to_the_next() {
    let (mut queue, mut writer) = frame_queue(RATE);
    let mut server = Server::new(0);
    (0..3000).for_each(|_| assert!(queue.push(AT_ONCE, on(60))));
    let mut counts = [0; 3];
    for count in &mut counts {
        writer.cycle(server.next(0), |_, _| {
            *count += 1;
            true
        });
    }
    assert_eq!(counts, [2047, 953, 0]);
    (0..CAPACITY).for_each(|_| assert!(queue.push(AT_ONCE, on(60))));
    assert!(!queue.push(AT_ONCE, on(60)), "no room is said, not hidden");
}

#[test]
fn offsets_never_go_back() {
    let (mut queue, mut writer) = frame_queue(RATE);
    assert!(queue.push(Nanos(2_000_000), on(60)));
    assert!(queue.push(Nanos(1_000_000), on(61)));
    assert!(queue.push(AT_ONCE, on(62)));
    let mut offsets = Vec::new();
    let cycle = Cycle { first_frame: 0, frames: PERIOD, starts_at: Nanos(0) };
    writer.cycle(cycle, |offset, _| {
        offsets.push(offset);
        true
    });
    assert_eq!(offsets, [96, 96, 96]);
}

/// One step of a made-up player.
#[derive(Clone, Debug)]
enum Step {
    /// So many nanoseconds after the one before, or after the cut.
    Push(i64),
    AtOnce,
    /// So many periods go by.
    Cycles(u8),
    /// So long past the guard.
    TakeBack(i64),
    TakeAllBack,
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![
        8 => (0..4_000_000i64).prop_map(Step::Push),
        1 => Just(Step::AtOnce),
        4 => (0..12u8).prop_map(Step::Cycles),
        3 => (0..60_000_000i64).prop_map(Step::TakeBack),
        1 => Just(Step::TakeAllBack),
    ];
    prop::collection::vec(step, 1..400)
}

/// The frame of a time. The first period begins at time 0 on frame 0, so the map has no offset.
fn frame_of(due: Nanos) -> i64 {
    ((i128::from(due.0) * i128::from(RATE) + SECOND / 2) / SECOND) as i64
}

/// A message that no note's end is mixed up with, and that tells itself apart.
fn numbered(index: usize) -> Message {
    let (controller, value) = ((index >> 7 & 127) as u8, (index & 127) as u8);
    Message::Control { channel: 0, controller, value }
}

proptest! {
    #[test]
    fn what_is_due_before_the_cut_goes_out_and_the_rest_does_not(steps in steps()) {
        let (mut queue, mut writer) = frame_queue(RATE);
        let mut server = Server::new(0);
        let guard = queue.guard(PERIOD);
        // The model: what waits, and what has gone out on which frame.
        let mut waiting: Vec<(Nanos, usize)> = Vec::new();
        let mut expected: Vec<(i64, usize)> = Vec::new();
        let mut got: Vec<(i64, usize)> = Vec::new();
        let mut cycle = |server: &mut Server, waiting: &mut Vec<(Nanos, usize)>| {
            let first = server.count;
            writer.cycle(server.next(0), |offset, bytes| {
                assert!(offset < PERIOD);
                let index = usize::from(bytes[1]) << 7 | usize::from(bytes[2]);
                got.push((first + i64::from(offset), index));
                true
            });
            let mut earliest = first;
            while let Some(&(due, index)) = waiting.first() {
                let frame = if due == AT_ONCE { first } else { frame_of(due) };
                if frame >= server.count {
                    break;
                }
                earliest = earliest.max(frame);
                expected.push((earliest, index));
                waiting.remove(0);
            }
        };
        // So that the map begins without an offset.
        prop_assert!(queue.push(Nanos(0), numbered(0)));
        waiting.push((Nanos(0), 0));
        cycle(&mut server, &mut waiting);

        let mut last = Nanos(0);
        for (index, step) in steps.into_iter().enumerate() {
            let index = index + 1;
            let now = i64::try_from(i128::from(server.count) * SECOND / i128::from(RATE)).unwrap();
            match step {
                Step::Push(after) => {
                    last = Nanos(last.0.max(now) + after);
                    prop_assert!(queue.push(last, numbered(index)));
                    waiting.push((last, index));
                }
                Step::AtOnce => {
                    prop_assert!(queue.push(AT_ONCE, numbered(index)));
                    waiting.push((AT_ONCE, index));
                }
                Step::Cycles(count) => {
                    (0..count).for_each(|_| cycle(&mut server, &mut waiting));
                }
                Step::TakeBack(after) => {
                    let from = Nanos(now + guard.0 + after);
                    queue.take_back(from);
                    waiting.retain(|&(due, _)| due < from);
                    last = from;
                }
                Step::TakeAllBack => {
                    queue.take_back(AT_ONCE);
                    waiting.clear();
                    last = Nanos(now);
                }
            }
        }
        let end = server.count.max(frame_of(last)) + 2 * i64::from(PERIOD);
        while server.count < end {
            cycle(&mut server, &mut waiting);
        }
        prop_assert!(waiting.is_empty() && queue.is_empty());
        prop_assert_eq!(got, expected);
        prop_assert_eq!(queue.late(), 0);
    }

    /// Cuts with no guard at all, as if the thread that makes them were put aside for long: what has
    /// gone out can't be fetched back, but it must not sound on.
    #[test]
    fn no_note_that_is_taken_back_sounds_on(
        steps in prop::collection::vec((0..3_000_000i64, 0..40_000_000i64, 0..8u8, any::<bool>()), 1..300),
    ) {
        let (mut queue, mut writer) = frame_queue(RATE);
        let mut server = Server::new(0);
        let mut sounding = std::collections::BTreeSet::new();
        // Queued beginnings and ends; (due, pitch, is an end).
        let mut queued: Vec<(Nanos, u8, bool)> = Vec::new();
        let mut last = Nanos(0);
        for (index, (after, cut, cycles, take_back)) in steps.into_iter().enumerate() {
            let pitch = (index % 128) as u8;
            for (later, end) in [(after, false), (2 * after, true)] {
                last.0 += later;
                let off = Message::NoteOff { channel: 0, pitch: MidiNote::new(pitch).unwrap() };
                let message = if end { off } else { on(pitch) };
                prop_assert!(queue.push(last, message));
                queued.push((last, pitch, end));
            }
            for _ in 0..cycles {
                writer.cycle(server.next(0), |_, bytes| {
                    match bytes[0] {
                        0x90 => sounding.insert(bytes[1]),
                        _ => sounding.remove(&bytes[1]),
                    };
                    true
                });
            }
            if take_back {
                let from = Nanos((last.0 - cut).max(0));
                queue.take_back(from);
                queued.retain(|&(due, ..)| due < from);
                last = Nanos(from.0.max(server.count * 1_000_000_000 / i64::from(RATE)));
                // What began before the cut and has not ended by then is ended anew, as a player does.
                let begun: Vec<u8> = queued.iter().filter(|it| !it.2).map(|it| it.1).collect();
                let ends = |pitch: u8| queued.iter().filter(|it| it.2 && it.1 == pitch).count();
                let begins = |pitch: u8| begun.iter().filter(|&&it| it == pitch).count();
                let open: std::collections::BTreeSet<u8> =
                    begun.iter().copied().filter(|&it| begins(it) > ends(it)).collect();
                for pitch in open {
                    let off = Message::NoteOff { channel: 0, pitch: MidiNote::new(pitch).unwrap() };
                    prop_assert!(queue.push(last, off));
                    queued.push((last, pitch, true));
                }
            }
        }
        let end = server.count.max(frame_of(last)) + 3 * i64::from(PERIOD);
        while server.count < end {
            writer.cycle(server.next(0), |_, bytes| {
                match bytes[0] {
                    0x90 => sounding.insert(bytes[1]),
                    _ => sounding.remove(&bytes[1]),
                };
                true
            });
        }
        prop_assert!(queue.is_empty());
        prop_assert!(sounding.is_empty(), "still sounding: {:?}", sounding);
    }
}
