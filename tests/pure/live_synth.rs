//! The band's sound as it is played live: told what to play while it plays.

use crate::common::sound::{RATE, everyone_live, frame, full_band, level, note, rendered, solo};
use assert_no_alloc::assert_no_alloc;
use openchair::chart::Role;
use openchair::perform::{CLICK_CHANNEL, Instrument, Message, Performance};
use openchair::sink::{MidiOut, SoundPort, Volume};
use openchair::synth::{CEILING, LiveRenderer, Renderer, Room, Synth, framed};
use openchair::theory::MidiNote;
use openchair::time::Nanos;
use proptest::prelude::*;

/// Plays a performance live: before each piece, of the lengths given in turn, the messages that fall
/// into what will be reckoned for it.
fn played_live(performance: &Performance, pieces: &[usize], frames: usize) -> [Vec<f32>; 2] {
    let messages = framed(performance, RATE);
    let mut waiting = messages.iter().peekable();
    let mut synth = live();
    let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
    let (mut done, mut lengths) = (0, pieces.iter().cycle());
    while done < frames {
        let to = (done + lengths.next().unwrap()).min(frames);
        let until = synth.reckoned_after(to - done);
        while let Some((at, message)) = waiting.next_if(|(at, _)| *at < until) {
            assert!(synth.take(*at, *message));
        }
        synth.render(&mut left[done..to], &mut right[done..to]);
        assert_eq!(synth.reckoned(), until);
        done = to;
    }
    [left, right]
}

/// The roles without their volumes and pans: those come as messages.
fn live() -> Synth {
    everyone_live(RATE)
}

fn on(role: Role, pitch: u8, velocity: u8) -> Message {
    Message::NoteOn { channel: role.channel(), pitch: MidiNote::new(pitch).unwrap(), velocity }
}

fn off(role: Role, pitch: u8) -> Message {
    Message::NoteOff { channel: role.channel(), pitch: MidiNote::new(pitch).unwrap() }
}

fn control(channel: u8, controller: u8, value: u8) -> Message {
    Message::Control { channel, controller, value }
}

/// So many milliseconds more, both sides.
fn more(synth: &mut Synth, millis: i64) -> [Vec<f32>; 2] {
    let (mut left, mut right) = (vec![0.0; frame(millis)], vec![0.0; frame(millis)]);
    synth.render(&mut left, &mut right);
    [left, right]
}

fn told(synth: &mut Synth, messages: impl IntoIterator<Item = Message>) {
    let now = synth.reckoned();
    messages.into_iter().for_each(|message| assert!(synth.take(now, message)));
}

/// The largest step from a frame to the next.
fn steepest(sound: &[f32]) -> f32 {
    sound.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max)
}

#[test]
fn a_song_played_live_is_the_exported_sound() {
    let all = full_band(6);
    let (left, right) = rendered(&mut Synth::new(&all, RATE), 4_096);
    // The first volumes and pans arrive while nothing sounds, and are there when something does.
    let early = frame(500);
    let [live_left, live_right] = {
        let messages = framed(&all, RATE);
        let mut synth = live();
        for (at, message) in messages {
            let set_up = matches!(message, Message::Control { .. } | Message::Program { .. });
            assert!(synth.take(if set_up { 0 } else { at + early as u64 }, message));
        }
        let frames = early + left.len();
        let (mut l, mut r) = (vec![0.0; frames], vec![0.0; frames]);
        synth.render(&mut l, &mut r);
        [l, r]
    };
    let apart = |made: &[f32], heard: &[f32]| {
        made.iter().zip(heard).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max)
    };
    // Blocks begin at other frames of the song, so sums round otherwise: nothing more.
    let off = apart(&left, &live_left[early..]).max(apart(&right, &live_right[early..]));
    assert!(off < 1e-4, "{off}");
}

#[test]
fn told_on_time_it_is_the_same_sample_by_sample() {
    let mut all = full_band(4);
    // At the volumes that a channel has before it is told.
    for part in &mut all.parts {
        part.instrument = Instrument { volume: 100, pan: 64, ..part.instrument };
    }
    let (left, right) = rendered(&mut Synth::new(&all, RATE), 4_096);
    let live = played_live(&all, &[480, 37, 1, 2_048], left.len());
    assert!(live == [left, right]);
}

#[test]
fn volume_and_pan_glide() {
    let mut synth = live();
    told(&mut synth, [on(Role::Guitar, 52, 90)]);
    let [before, _] = more(&mut synth, 300);
    told(&mut synth, [control(Role::Guitar.channel(), 7, 50)]);
    let [after, _] = more(&mut synth, 300);
    // 40·log10(50/100) = -12.04 dB.
    let mut other = live();
    told(&mut other, [on(Role::Guitar, 52, 90)]);
    more(&mut other, 300);
    let [same, _] = more(&mut other, 300);
    let fall = level(&after[frame(100)..]) - level(&same[frame(100)..]);
    assert!((fall + 12.04).abs() < 0.5, "{fall}");
    assert!(steepest(&after) <= 1.05 * steepest(&same), "no click");
    assert!(before.iter().any(|x| x.abs() > 0.01));
}

#[test]
fn all_notes_off_is_a_flat_hand_and_all_sound_off_a_faster_one() {
    for (controller, within) in [(123, 33), (120, 5)] {
        let mut synth = live();
        let chord = [on(Role::Guitar, 43, 110), on(Role::Guitar, 59, 110), on(Role::Bass, 31, 110)];
        told(&mut synth, chord);
        let [before, _] = more(&mut synth, 250);
        told(&mut synth, (0..16).map(|channel| control(channel, controller, 0)));
        let [after, _] = more(&mut synth, 200);
        assert!(after[..frame(1)].iter().any(|x| x.abs() > 0.01));
        assert!(after[frame(within)..].iter().all(|x| x.abs() < 1e-9), "{controller}");
        assert!(
            steepest(&after) <= steepest(&before[frame(150)..]).max(0.02) * 1.1,
            "{controller}"
        );
    }
}

#[test]
fn one_role_is_silenced_alone() {
    // Without a room, which rings on.
    let live = || live().in_room(Room::Dry);
    let guitar_alone = {
        let mut synth = live();
        told(&mut synth, [on(Role::Guitar, 55, 100)]);
        more(&mut synth, 600)
    };
    let mut synth = live();
    told(&mut synth, [on(Role::Guitar, 55, 100), on(Role::Bass, 36, 100)]);
    more(&mut synth, 200);
    told(&mut synth, [control(Role::Bass.channel(), 123, 0)]);
    let [left, _] = more(&mut synth, 400);
    let bass: Vec<f32> =
        left.iter().zip(&guitar_alone[0][frame(200)..]).map(|(both, one)| both - one).collect();
    assert!(level(&bass[..frame(5)]) > -40.0);
    // The strings are silent; the air in the body, at 65 Hz this very note, rings out by 60 dB in 0.4 s.
    let [soon, then] = [150, 370].map(|at| level(&bass[frame(at)..frame(at + 30)]));
    assert!(soon < -30.0 && then < -60.0, "{soon} {then}");
    // And at once there may be music again.
    told(&mut synth, [on(Role::Bass, 36, 100)]);
    let [left, _] = more(&mut synth, 100);
    assert!(level(&left) > -40.0);
}

#[test]
fn a_note_after_a_hush_is_the_whole_note() {
    let clean = {
        let mut synth = live();
        told(&mut synth, [on(Role::Chop, 69, 100)]);
        more(&mut synth, 100)
    };
    // A set-up of a new output: everything off on every channel, then notes.
    let mut synth = live();
    let hush = (0..16).flat_map(|channel| [control(channel, 120, 0), control(channel, 123, 0)]);
    told(&mut synth, hush.chain([on(Role::Chop, 69, 100)]));
    assert!(more(&mut synth, 100) == clean);
}

#[test]
fn the_side_stick_is_a_sound_of_its_own() {
    let heard = |pitch| {
        let mut synth = live();
        let pitch = MidiNote::new(pitch).unwrap();
        told(&mut synth, [Message::NoteOn { channel: CLICK_CHANNEL, pitch, velocity: 100 }]);
        more(&mut synth, 300)[0].clone()
    };
    let [stick, high, low] = [37, 76, 77].map(heard);
    for sound in [&stick, &high, &low] {
        let top = sound.iter().fold(0.0_f32, |top, x| top.max(x.abs()));
        assert!((0.1..0.6).contains(&top), "{top}");
        assert!(level(&sound[frame(200)..]) < -60.0);
    }
    assert!(stick != high && high != low && stick != low);
}

#[test]
fn nothing_clips_with_all_as_loud_as_can_be() {
    let mut synth = live();
    let roles = Role::ALL.into_iter().map(Role::channel);
    told(&mut synth, roles.map(|channel| control(channel, 7, 127)));
    let mut top = 0.0_f32;
    for round in 0..24 {
        let notes = [28, 35, 40, 45, 50, 55, 59, 64, 67, 71, 76, 81];
        for role in Role::ALL {
            told(&mut synth, notes.map(|pitch| off(role, pitch)));
            told(&mut synth, notes.map(|pitch| on(role, pitch, 127)));
        }
        let [left, right] = more(&mut synth, 60 + round);
        top = left.iter().chain(&right).fold(top, |top, x| top.max(x.abs()));
    }
    assert!(top <= CEILING && top > 0.8, "{top}");
}

#[test]
fn playing_live_allocates_nothing() {
    let mut synth = live();
    let (mut left, mut right) = (vec![0.0; 480], vec![0.0; 480]);
    assert_no_alloc(|| {
        for n in 0..400_u64 {
            let (pitch, role) = (30 + (n % 50) as u8, Role::ALL[n as usize % 6]);
            synth.take(480 * n + n % 400, on(role, pitch, 100));
            synth.take(480 * n + 420, off(role, 30 + ((n + 40) % 50) as u8));
            // A bow may be on the string for long, so there are more of its ends than of its beginnings.
            synth.take(480 * n + 420, off(Role::ALL[4 + n as usize % 2], 30 + (n % 50) as u8));
            let program = [24, 25, 26, 32, 53, 105, 110][n as usize % 7];
            synth.take(480 * n + 421, Message::Program { channel: n as u8 % 6, program });
            synth.take(480 * n + 421, control(role.channel(), 7 + 3 * (n % 2) as u8, 90));
            if n % 50 == 49 {
                (0..16).for_each(|channel| {
                    assert!(
                        synth.take(480 * n + 430, control(channel, 120 + 3 * (n % 2) as u8, 0))
                    );
                });
            }
            let click = Message::NoteOn {
                channel: CLICK_CHANNEL,
                pitch: MidiNote::new(76).unwrap(),
                velocity: 90,
            };
            synth.take(480 * n + 440, click);
            synth.render(&mut left, &mut right);
        }
    });
    assert!(left.iter().any(|x| x.abs() > 0.001));
}

#[test]
fn neither_end_of_the_sound_port_allocates() {
    let volume = Volume::default();
    let form = (2, 960);
    let now = std::time::Instant::now();
    let (mut port, mut source) = SoundPort::new(Box::new(live()), "made up", form, &volume, now);
    let mut samples = vec![0_i16; 2 * 960];
    let mut loudest = 0;
    assert_no_alloc(|| {
        for n in 0..300_i64 {
            let now = Nanos(n * 20_000_000);
            let due = Nanos(now.0 + port.ahead().0);
            let (role, pitch) = (Role::ALL[n as usize % 6], 40 + (n % 20) as u8);
            assert!(port.send(due, on(role, pitch, 90)).is_ok());
            assert!(port.send(Nanos(due.0 + 10_000_000), off(role, pitch)).is_ok());
            if n % 40 == 39 {
                port.take_back(Nanos(now.0 + port.guard().0));
                volume.turn(-3);
            }
            let heard = Nanos(now.0 + 30_000_000 + n % 7 * 500_000);
            source.fill(&mut samples, (now, heard), |x| (x * 32_767.0) as i16, 0);
            loudest = samples.iter().fold(loudest, |top, x| x.saturating_abs().max(top));
        }
    });
    assert!(loudest > 3_000, "{loudest}");
}

#[test]
fn a_full_queue_says_so() {
    let mut synth = live();
    let taken = (0..100_000).take_while(|_| synth.take(0, on(Role::Bass, 40, 1))).count();
    assert!((4_000..10_000).contains(&taken), "{taken}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn pieces_of_any_length_give_the_same(
        pieces in prop::collection::vec(1_usize..3_000, 1..40),
        raw in prop::collection::vec((0_usize..6, 0_i64..1_500, 1_i64..900, 28_u8..90, 1_u8..=127), 1..40),
    ) {
        let mut raw = raw;
        raw.sort_by_key(|note| note.1);
        let mut all = solo(Role::Bass, Vec::new());
        for (role, start, length, pitch, velocity) in raw {
            let role = Role::ALL[role];
            let part = match all.parts.iter().position(|part| part.role == role) {
                Some(at) => &mut all.parts[at],
                None => {
                    all.parts.extend(solo(role, Vec::new()).parts);
                    all.parts.last_mut().unwrap()
                }
            };
            part.notes.push(note(start, length, pitch, velocity));
        }
        let whole = played_live(&all, &[usize::MAX / 4], frame(3_000));
        let split = played_live(&all, &pieces, frame(3_000));
        prop_assert!(whole == split);
    }
}
