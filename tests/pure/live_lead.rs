//! Whoever leads has the sound of their own instrument, however the band came to the bar: after a jump,
//! in a loop, at a port that was plugged in again.

use crate::common::shipped;
use crate::playing::probe::Tape;
use crate::playing::show::{DIRECT, Do, QUEUED, SECOND, Show, show};
use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::Role;
use openchair::live::{Command, Entry, Score};
use openchair::perform::{Message, Performance, perform};
use openchair::time::Tempo;

const BAR: i64 = 2 * SECOND;

/// Four bars for each of four instruments; the voice between them has no tune, and so no lead but for what the banjo
/// picks up with at its end.
const SONG: &str = r#"
title = "Four at the Rail"
key = "G"
meter = "4/4"
tempo = 120
style = "drive"
band = ["bass", "chop", "lead"]
ending = "none"
form = ["a: fiddle", "a: guitar", "a: voice", "a: banjo", "a: mandolin"]

[section.a]
chords = "| G | C | D7 | G |"
"#;

/// General MIDI Level 1's sound set, from 0: 110 fiddle, 25 acoustic guitar (steel), 105 banjo. It has
/// no mandolin; 24, acoustic guitar (nylon), stands for one.
const PROGRAMS: [(std::ops::Range<usize>, u8); 4] =
    [(0..4, 110), (4..8, 25), (11..16, 105), (16..20, 24)];

fn take() -> (Arrangement, Performance) {
    let song = shipped::song(SONG);
    let style = shipped::styles().into_iter().find(|style| style.name == song.style).unwrap();
    let arrangement = arrange(&song, &Plan::default()).unwrap();
    let performance = perform(&arrangement, &style, 3).unwrap();
    (arrangement, performance)
}

fn play(kinds: &[(i64, i64)], script: Vec<(i64, Do)>) -> Show {
    let (arrangement, performance) = take();
    let score = Score::new(0, &arrangement, &performance);
    show(score, Tempo::from_micros(500_000), false, kinds, script)
}

/// When the lead's notes begin, and the program that its channel has there; `None` if none was sent.
fn sounds(tape: &Tape) -> Vec<(i64, Option<u8>)> {
    tape.pairs();
    let mut program = None;
    let mut out = Vec::new();
    for heard in tape.all() {
        match heard.message {
            Message::Program { channel, program: now } if channel == Role::Lead.channel() => {
                program = Some(now);
            }
            Message::NoteOn { channel, .. } if channel == Role::Lead.channel() => {
                out.push((heard.at, program));
            }
            _ => {}
        }
    }
    out
}

/// Every note has the program of whoever leads in the bar that was played then.
fn hold(show: &Show, tape: &Tape) -> Vec<u8> {
    let mut heard = Vec::new();
    for (at, program) in sounds(tape) {
        // Feel brings a note a few milliseconds over a bar line.
        let at = |off: i64| {
            let begun =
                |(_, status): &&(i64, openchair::live::Status)| status.bar_start.0 <= at + off;
            show.statuses.iter().rfind(begun).map(|(_, status)| status.bar)
        };
        let wanted: Vec<u8> = [at(-30_000_000), at(0), at(30_000_000)]
            .into_iter()
            .flatten()
            .filter_map(|bar| Some(PROGRAMS.iter().find(|(bars, _)| bars.contains(&bar))?.1))
            .collect();
        let program = program.unwrap();
        assert!(wanted.contains(&program), "{program} for {wanted:?}");
        if heard.last() != Some(&program) {
            heard.push(program);
        }
    }
    heard
}

#[test]
fn each_pass_has_the_sound_of_who_leads_it() {
    for kinds in [&[DIRECT][..], &[QUEUED], &[DIRECT, QUEUED]] {
        let script = vec![(0, Command::Go.into()), (20 * BAR, Command::End.into())];
        let show = play(kinds, script);
        for tape in &show.tapes {
            assert_eq!(hold(&show, tape), [110, 25, 105, 24]);
        }
    }
}

#[test]
fn after_a_jump_the_sound_stands_before_the_first_note() {
    for kinds in [&[DIRECT][..], &[QUEUED], &[DIRECT, QUEUED]] {
        let jump = |number| Command::Jump(number).into();
        let script = vec![
            (0, Command::Go.into()),
            (BAR + BAR / 2, jump(13)),
            (4 * BAR + BAR / 2, jump(5)),
            // Within the pass, and back to the beginning: no program too many.
            (6 * BAR + BAR / 2, jump(6)),
            (8 * BAR + BAR / 2, jump(1)),
            (10 * BAR + BAR / 2, Command::Pause.into()),
            (11 * BAR, jump(18)),
            (11 * BAR + 1, Command::Go.into()),
            (13 * BAR, Command::End.into()),
        ];
        let show = play(kinds, script);
        for tape in &show.tapes {
            assert_eq!(hold(&show, tape), [110, 105, 25, 110, 24]);
            let changes = tape.all().into_iter().filter(|heard| {
                matches!(heard.message, Message::Program { channel, .. }
                    if channel == Role::Lead.channel())
            });
            assert_eq!(changes.count(), 5, "one at the beginning, one for each change");
        }
    }
}

#[test]
fn a_loop_of_two_passes_changes_back_and_forth() {
    let (song, _) = take();
    let round = song.excerpt(4..=5, 3).unwrap();
    let style = shipped::styles().into_iter().find(|style| style.name == "drive").unwrap();
    let performance = perform(&round, &style, 3).unwrap();
    let lead = performance.parts.iter().find(|part| part.role == Role::Lead).unwrap();
    assert_eq!(lead.instrument.program, 110);
    let programs: Vec<u8> = lead.programs.iter().map(|(_, program)| *program).collect();
    assert_eq!(programs, [25, 110, 25, 110, 25]);
    let score = Score::new(0, &round, &performance);
    let script = vec![(0, Command::Go.into()), (14 * BAR, Command::End.into())];
    let show = show(score, Tempo::from_micros(500_000), false, &[QUEUED], script);
    let mut heard: Vec<Option<u8>> = sounds(&show.tapes[0]).into_iter().map(|it| it.1).collect();
    heard.dedup();
    assert!(heard.len() >= 13, "{heard:?}");
    assert!(heard.iter().all(|program| [Some(110), Some(25)].contains(program)));
}

#[test]
fn another_score_brings_its_own_sound() {
    let (song, _) = take();
    let style = shipped::styles().into_iter().find(|style| style.name == "drive").unwrap();
    for (bars, program) in [(1..=4, 110), (13..=16, 105)] {
        let part = song.excerpt(bars, 2).unwrap();
        let performance = perform(&part, &style, 3).unwrap();
        let score = Box::new(Score::new(1, &part, &performance));
        let swap = Command::Play { score, at: Entry::BarLine, from: None, tempo: None };
        let script = vec![
            (0, Command::Go.into()),
            // In the guitar's pass.
            (5 * BAR + BAR / 2, swap.into()),
            (9 * BAR, Command::End.into()),
        ];
        let show = play(&[QUEUED], script);
        let heard = sounds(&show.tapes[0]);
        let later = heard.iter().filter(|(at, _)| *at > 6 * BAR + SECOND);
        assert!(later.clone().count() > 8);
        assert!(later.into_iter().all(|(_, it)| *it == Some(program)));
    }
}

#[test]
fn a_port_that_comes_back_gets_the_sound_of_now() {
    for kinds in [&[DIRECT][..], &[QUEUED], &[QUEUED, DIRECT]] {
        let script = vec![
            (0, Command::Go.into()),
            (3 * BAR, Do::Lose(0)),
            (5 * BAR + BAR / 3, Do::Supply(0)),
            (15 * BAR, Command::End.into()),
        ];
        let show = play(kinds, script);
        let back = show.tapes.last().unwrap();
        assert_eq!(hold(&show, back), [25, 105]);
    }
}

#[test]
fn after_the_machine_slept_the_sound_is_sent_again() {
    for kinds in [&[DIRECT][..], &[QUEUED], &[DIRECT, QUEUED]] {
        // At the line where the guitar takes over.
        let asleep = 4 * BAR + SECOND / 10 - 5_000_000;
        let slept = 20 * SECOND;
        let script = vec![
            (0, Command::Go.into()),
            (asleep, Do::Stall(slept)),
            (8 * BAR + slept, Command::End.into()),
        ];
        let show = play(kinds, script);
        for tape in &show.tapes {
            let after = sounds(tape).into_iter().filter(|(at, _)| *at > asleep + slept + BAR);
            let programs: Vec<Option<u8>> = after.map(|(_, program)| program).collect();
            assert!(programs.len() > 4);
            assert!(programs.iter().all(|program| *program == Some(25)), "{programs:?}");
        }
    }
}
