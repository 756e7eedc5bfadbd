//! A machine that stands still or sleeps, and outputs that go and come.

use crate::playing::probe::{Heard, Tape};
use crate::playing::show::{DIRECT, Do, MILLI, QUEUED, SECOND, Show, arrangement, performed, show};
use openchair::live::{Command, Score, Slot, Standing};
use openchair::perform::Message;
use openchair::time::Tempo;
use proptest::prelude::*;

const BAR: i64 = 2 * SECOND;

fn play(kinds: &[(i64, i64)], script: Vec<(i64, Do)>) -> Show {
    let song = arrangement("| G | C / D / | G | D |\n| Em | C | D | G / / D |", "tempo = 120");
    let song = song.excerpt(1..=8, 2).unwrap();
    let score = Score::new(0, &song, &performed(&song));
    show(score, Tempo::from_micros(500_000), false, kinds, script)
}

fn ons(tape: &Tape) -> Vec<Heard> {
    let all = tape.all().into_iter();
    all.filter(|it| matches!(it.message, Message::NoteOn { .. })).collect()
}

/// When bars begin, from a time on.
fn lines(show: &Show, from: i64) -> Vec<i64> {
    let playing = show.statuses.iter().filter(|(_, it)| it.standing == Standing::Playing);
    let mut lines: Vec<i64> = playing.map(|(_, status)| status.bar_start.0).collect();
    lines.retain(|at| *at >= from);
    lines.dedup();
    lines
}

#[test]
fn after_a_stall_the_band_is_where_it_would_be() {
    for kinds in [&[DIRECT][..], &[QUEUED], &[DIRECT, QUEUED]] {
        for stall in [150 * MILLI, 1000 * MILLI, 1990 * MILLI] {
            let begun = 3 * BAR + 300 * MILLI;
            let script = vec![
                (0, Command::Go.into()),
                (begun, Do::Stall(stall)),
                (8 * BAR, Command::End.into()),
            ];
            let show = play(kinds, script);
            let report = show.result.as_ref().unwrap();
            // What was queued at a server has sounded meanwhile.
            assert!(report.dropped > 0 || stall < 1000 * MILLI, "{report:?}");
            for tape in &show.tapes {
                tape.pairs();
                let late = ons(tape).iter().map(|it| it.handed - it.at).max().unwrap();
                assert!(late <= 100 * MILLI, "{late}");
                let after: Vec<Heard> =
                    ons(tape).into_iter().filter(|it| it.at > begun + stall).collect();
                assert!(after.len() > 50);
            }
            let lines = lines(&show, 0);
            for line in &lines {
                assert_eq!((line - lines[0]) % BAR, 0, "in time");
            }
            let (_, last) = show.statuses.last().unwrap();
            assert_eq!(last.dropped, report.dropped, "and the screen says so");
        }
    }
}

#[test]
fn a_machine_that_slept_goes_on_where_it_was() {
    for kinds in [&[DIRECT][..], &[QUEUED], &[DIRECT, QUEUED]] {
        let asleep = 3 * BAR + 300 * MILLI;
        let slept = 20 * SECOND;
        let script = vec![
            (0, Command::Go.into()),
            (asleep, Do::Stall(slept)),
            (8 * BAR + slept, Command::End.into()),
        ];
        let show = play(kinds, script);
        assert_eq!(show.result.as_ref().unwrap().dropped, 0, "nothing was missed");
        let woke = asleep + slept;
        for tape in &show.tapes {
            tape.pairs();
            let burst = ons(tape)
                .iter()
                .filter(|it| (woke..woke + 100 * MILLI).contains(&it.handed) && it.at < woke)
                .count();
            assert_eq!(burst, 0);
            assert!(ons(tape).iter().filter(|it| it.at > woke + SECOND).count() > 50);
        }
        let first = lines(&show, 0)[0];
        let after = lines(&show, woke);
        assert!(after.len() >= 3);
        // Its own bar was not finished: it goes on in it, as long after as it slept, and its thread woke.
        let off = (after[0] - first - slept) % BAR;
        let near = off.min(BAR - off);
        assert!(near < 10 * MILLI, "{near}");
        let bars: Vec<usize> = show.statuses.iter().map(|(_, status)| status.bar).collect();
        assert!(
            bars.windows(2).all(|pair| pair[1] == pair[0] || pair[1] == pair[0] + 1),
            "{bars:?}"
        );
    }
}

#[test]
fn a_lost_output_comes_back_with_its_sounds_and_the_beat_goes_on() {
    for kinds in [&[DIRECT][..], &[QUEUED], &[QUEUED, DIRECT]] {
        let script = vec![
            (0, Command::Go.into()),
            (3 * BAR, Do::Lose(0)),
            (5 * BAR + BAR / 3, Do::Supply(0)),
            (8 * BAR, Command::End.into()),
        ];
        let show = play(kinds, script);
        assert!(show.result.is_ok());
        assert_eq!(show.handed_back, [Slot::Port]);
        let back = show.tapes.last().unwrap();
        back.pairs();
        let all = back.all();
        let first_note =
            all.iter().position(|it| matches!(it.message, Message::NoteOn { .. })).unwrap();
        let words: Vec<[u8; 3]> = all[..first_note].iter().map(|it| it.message.bytes().0).collect();
        // All Sound Off and All Notes Off on each channel, then program, volume, pan.
        let silenced = |channel: u8| [[0xB0 | channel, 120, 0], [0xB0 | channel, 123, 0]];
        let wanted: Vec<[u8; 3]> = [0, 1, 2, 9].into_iter().flat_map(silenced).collect();
        assert_eq!(words[..8], wanted);
        let statuses: Vec<u8> = words[8..].iter().map(|word| word[0] & 0xF0).collect();
        assert_eq!(statuses, [0xC0, 0xB0, 0xB0].repeat(3));
        // In the beat of what was lost: every note lies where an undisturbed band has it.
        let plain = play(kinds, vec![(0, Command::Go.into()), (8 * BAR, Command::End.into())]);
        let expected: Vec<i64> = ons(&plain.tapes[0]).iter().map(|it| it.at).collect();
        let got: Vec<i64> = ons(back).iter().map(|it| it.at).collect();
        let joined = got[0];
        assert!(joined - (5 * BAR + BAR / 3) < 400 * MILLI, "soon");
        let rest: Vec<i64> = expected.into_iter().filter(|at| *at >= joined).collect();
        assert_eq!(got, rest);
        let lost = |at: i64| show.statuses.iter().rfind(|(seen, _)| *seen <= at).unwrap().1.lost;
        assert!(!lost(3 * BAR - MILLI) && lost(4 * BAR) && !lost(6 * BAR));
        if let [_, other, _] = show.tapes.as_slice() {
            other.pairs();
            assert_eq!(ons(other).len(), ons(&plain.tapes[1]).len(), "the other plays on");
        }
    }
}

#[test]
fn an_output_that_refuses_is_damped_if_it_will_have_it_and_handed_back() {
    for kind in [DIRECT, QUEUED] {
        let script = vec![
            (0, Command::Go.into()),
            (3 * BAR, Do::Refuse(0, true)),
            (3 * BAR + 60 * MILLI, Do::Refuse(0, false)),
            (5 * BAR, Command::End.into()),
        ];
        let show = play(&[kind], script);
        assert_eq!(show.handed_back, [Slot::Port]);
        let tape = &show.tapes[0];
        assert!(tape.is_closed());
        assert_eq!(tape.sounding(i64::MAX), []);
        assert!(show.statuses.last().unwrap().1.lost);
    }
}

#[test]
fn a_new_output_takes_the_place_of_the_old() {
    let script =
        vec![(0, Command::Go.into()), (3 * BAR, Do::Supply(0)), (5 * BAR, Command::End.into())];
    let show = play(&[QUEUED], script);
    assert_eq!(show.handed_back, [Slot::Port]);
    for tape in &show.tapes {
        tape.pairs();
    }
    assert!(ons(&show.tapes[1]).len() > 20);
    assert!(!show.statuses.iter().any(|(_, status)| status.lost));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(60) })]

    #[test]
    fn no_stall_leaves_a_note_hanging(
        at in 0..10 * SECOND,
        stall in 1..4 * SECOND,
        again in 1..4 * SECOND,
        second in 0..3 * SECOND,
        kinds in prop_oneof![Just(vec![DIRECT]), Just(vec![QUEUED]), Just(vec![QUEUED, DIRECT])],
    ) {
        let script = vec![
            (0, Command::Go.into()),
            (at, Do::Stall(stall)),
            (at + stall + again, Do::Stall(second)),
            (30 * SECOND, Command::End.into()),
        ];
        let show = play(&kinds, script);
        for tape in &show.tapes {
            for (_, lasted, ..) in tape.pairs() {
                prop_assert!(lasted < 15 * SECOND);
            }
        }
    }
}
