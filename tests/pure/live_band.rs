//! What is heard live is what an exported file holds; and what single commands do to it.

use crate::common::shipped;
use crate::playing::probe::{Heard, Tape};
use crate::playing::show::{DIRECT, Do, LEAD, QUEUED, SECOND, Show, arrangement, performed, show};
use openchair::arrange::{Plan, arrange};
use openchair::chart::{Role, RoleSet};
use openchair::live::{Command, Entry, Score, Standing};
use openchair::perform::{Message, Note, messages, perform};
use openchair::practice::Chairs;
use openchair::synth::last_chord_rings;
use openchair::theory::MidiNote;
use openchair::time::{Tempo, Ticks};

type Event = (i64, [u8; 3]);

fn events(tape: &Tape) -> Vec<Event> {
    let bytes = |heard: &Heard| (heard.at, heard.message.bytes().0);
    let mut events: Vec<Event> = tape.all().iter().map(bytes).collect();
    events.sort_unstable();
    events
}

/// Without the clicks.
fn of_channel(tape: &Tape, channel: u8) -> Vec<Event> {
    let mut events = events(tape);
    events.retain(|(_, bytes)| bytes[0] & 0x0F == channel && bytes[0] < 0xB0);
    events
}

/// When notes of a pitch begin on a channel.
fn onsets(tape: &Tape, channel: u8, key: u8) -> Vec<i64> {
    let on = |heard: &Heard| match heard.message {
        Message::NoteOn { channel: c, pitch, .. } => c == channel && pitch.get() == key,
        _ => false,
    };
    tape.all().iter().filter(|heard| on(heard)).map(|heard| heard.at).collect()
}

fn go() -> Vec<(i64, Do)> {
    vec![(0, Command::Go.into())]
}

#[test]
fn a_plain_run_is_the_exported_file_event_for_event() {
    let (mut songs, mut rung) = (0, 0);
    for (path, song, style) in shipped::pairs() {
        // Faster than written, to be done sooner.
        let plan = Plan { speed: 350.0, tag: style.tag, ..Plan::default() };
        let song = arrange(&song, &plan).unwrap();
        let performance = perform(&song, &style, 3).unwrap();
        let score = Score::new(0, &song, &performance);
        let kind = if songs % 2 == 0 { DIRECT } else { QUEUED };
        let show = show(score, song.tempo, false, &[kind], go());
        let report = show.result.unwrap();
        assert_eq!((report.stopped, report.dropped), (false, 0));
        let heard = events(&show.tapes[0]);
        let begins = heard[0].0 + LEAD;
        let file = messages(&performance);
        let end = begins + performance.nanos(song.end).0;
        // In a file nothing sounds past the end; live, no hand comes down on the last chord.
        let rings = last_chord_rings(&performance).map_or(0, |rings| rings.0);
        let mut wanted: Vec<Event> = file
            .iter()
            .map(|timed| {
                let message = timed.message;
                let set_up = matches!(message, Message::Control { .. } | Message::Program { .. });
                let set_up = set_up && !message.begins();
                let at = if set_up { -LEAD } else { performance.nanos(timed.at).0 };
                (begins + at, timed.message.bytes().0)
            })
            .collect();
        wanted.sort_unstable();
        let (heard, late): (Vec<Event>, Vec<Event>) = heard.iter().partition(|(at, _)| *at <= end);
        let any = !late.is_empty();
        for (at, off) in late {
            assert!((at - end - rings).abs() < 2_000_000, "{at} after {end}, rings {rings}");
            let place = wanted.iter().position(|it| *it == (end, off)).expect("its end");
            wanted.remove(place);
            rung += 1;
        }
        assert_eq!(heard, wanted, "{} in {}", path.display(), style.name);
        let end = end + if any { rings } else { 0 };
        // To the tick.
        let about = end - if any { 1_000_000 } else { 0 }..end + 3_000_000;
        assert!(about.contains(&show.end), "it ends with the last chord");
        songs += 1;
    }
    assert!(songs > 50, "{songs}");
    assert!(rung > songs, "{rung} strings ring on after {songs} songs");
}

#[test]
fn an_ending_slows_down_at_any_tempo_and_what_comes_after_a_jump_does_not() {
    let is_ballad = |song: &openchair::chart::Song, style: &openchair::style::Style| {
        song.title == "Hand on the Rope" && style.name == "slow"
    };
    let mut pairs = shipped::pairs().into_iter();
    let (_, song, style) = pairs.find(|(_, song, style)| is_ballad(song, style)).unwrap();
    let song = arrange(&song, &Plan { tempo: Some(69.0), ..Plan::default() }).unwrap();
    let performance = perform(&song, &style, 3).unwrap();
    let (before, last) = (song.bars.len() - 2, song.bars.len() - 1);
    let asked = Tempo::from_micros(500_000);
    let script = vec![
        (0, Command::Jump(song.bars[before].number).into()),
        (0, Command::Go.into()),
        (2 * SECOND, Command::Tempo(asked).into()),
        (5 * SECOND, Command::Jump(1).into()),
        (8 * SECOND, Command::End.into()),
    ];
    let score = Score::new(0, &song, &performance);
    let show = show(score, song.tempo, false, &[DIRECT, QUEUED], script);
    show.tapes.iter().for_each(|tape| _ = tape.pairs());
    let tempos = |bar: usize| -> Vec<u32> {
        let here = show.statuses.iter().filter(|(_, status)| status.bar == bar);
        here.map(|(_, status)| status.tempo.micros_per_quarter()).collect()
    };
    let slowest = asked.stretched(performance.slowing.last().unwrap().permille);
    assert!(tempos(before).iter().any(|&micros| micros > song.tempo.micros_per_quarter()));
    assert_eq!(tempos(last).last(), Some(&slowest.micros_per_quarter()));
    assert_eq!(tempos(0).last(), Some(&500_000), "{:?}", tempos(0));
    // Told anew at every change, the place in the bar goes on evenly.
    for pair in show.statuses.windows(2) {
        let [(_, one), (seen, two)] = pair else { continue };
        if one.visit == two.visit && one.tempo != two.tempo && one.standing == two.standing {
            let place = |status: &openchair::live::Status| {
                status.tempo.ticks(openchair::time::Nanos(seen - status.bar_start.0)).get()
            };
            assert!((place(one) - place(two)).abs() <= 20, "{one:?} {two:?}");
        }
    }
}

/// Sixteen bars that go round, at 150 beats a minute.
fn looped() -> (openchair::arrange::Arrangement, Tempo) {
    let chords = "| G | C / D / | G | D |\n| Em | C | D | G / / D |";
    let song = arrangement(chords, "tempo = 150").excerpt(1..=8, 2).unwrap();
    let tempo = song.tempo;
    (song, tempo)
}

fn play(script: Vec<(i64, Do)>) -> Show {
    let (song, tempo) = looped();
    show(Score::new(0, &song, &performed(&song)), tempo, false, &[DIRECT, QUEUED], script)
}

const BAR: i64 = 1_600_000_000;

#[test]
fn leaving_a_role_out_changes_no_other() {
    let plain = play(vec![(0, Command::Go.into()), (60 * SECOND, Command::End.into())]);
    for role in Role::BAND {
        let set = RoleSet::EMPTY.with(role);
        let script = vec![
            (0, Command::Go.into()),
            (11 * SECOND, Command::Mute(set).into()),
            (20 * SECOND, Command::Mute(RoleSet::EMPTY).into()),
            (31 * SECOND, Command::Mute(set).into()),
            (60 * SECOND, Command::End.into()),
        ];
        let muted = play(script);
        for (tape, of_plain) in muted.tapes.iter().zip(&plain.tapes) {
            tape.pairs();
            for other in Role::BAND.into_iter().filter(|&other| other != role) {
                let (got, all) =
                    (of_channel(tape, other.channel()), of_channel(of_plain, other.channel()));
                let before = |events: Vec<Event>| -> Vec<Event> {
                    events.into_iter().filter(|(at, _)| *at < 60 * SECOND).collect()
                };
                assert_eq!(before(got), before(all), "{other} without {role}");
            }
            let own = of_channel(tape, role.channel());
            let ons = own.iter().filter(|(_, bytes)| bytes[0] >> 4 == 9);
            let out = |at: i64| {
                let cut = |second| second * SECOND + 5_000_000;
                (cut(11)..20 * SECOND).contains(&at) || at > cut(31)
            };
            assert!(ons.clone().count() > 10 && ons.clone().all(|(at, _)| !out(*at)));
        }
    }
}

#[test]
fn counting_in_clicks_and_then_the_bar_comes() {
    let script = vec![
        (0, Command::CountIn(2).into()),
        // In bar 3.
        (2 * BAR + 2 * BAR + BAR / 3, Command::CountIn(1).into()),
        (10 * BAR, Command::End.into()),
    ];
    let show = play(script);
    for tape in &show.tapes {
        let (high, low) = (onsets(tape, 9, 76), onsets(tape, 9, 77));
        let first = high[0];
        let bar = |bars: i64| first + bars * BAR;
        assert_eq!(high, [bar(0), bar(1), bar(5)]);
        assert_eq!(low.len(), 9);
        assert_eq!(low[0], first + BAR / 4);
        // Silent but for the clicks in the second one.
        let struck = |from: i64, to: i64| {
            let notes = tape.all();
            let ons = notes
                .iter()
                .filter(|it| matches!(it.message, Message::NoteOn { channel, .. } if channel != 9));
            ons.filter(|it| (bar(from) - 1..bar(to) - 100_000_000).contains(&it.at)).count()
        };
        assert_eq!((struck(0, 2), struck(5, 6)), (0, 0));
        assert!(struck(2, 5) > 30 && struck(6, 8) > 20);
    }
    let standings: Vec<(Standing, usize)> =
        show.statuses.iter().map(|(_, status)| (status.standing, status.bar)).collect();
    assert!(standings.contains(&(Standing::CountingIn { bars: 2 }, 0)));
    assert!(standings.contains(&(Standing::CountingIn { bars: 1 }, 3)));
    let (_, counting) = show.statuses.iter().find(|(_, s)| s.bar == 3).unwrap();
    assert_eq!(counting.place(counting.bar_start, Ticks::new(3840)), Ticks::ZERO);
}

/// Paused and counted in at once, as a hand on the count-in's key does it: the bar that it was in comes again.
#[test]
fn a_count_in_in_the_middle_of_a_bar_leads_back_to_its_beginning() {
    let at = LEAD + 2 * BAR + BAR / 3;
    let show = play(vec![
        (0, Command::Go.into()),
        (at, Command::Pause.into()),
        (at, Command::CountIn(1).into()),
        (8 * BAR, Command::End.into()),
    ]);
    let after = show.statuses.iter().filter(|(_, status)| status.since.0 >= at);
    let stood: Vec<(Standing, usize)> =
        after.map(|(_, status)| (status.standing, status.bar)).take(8).collect();
    assert!(stood.contains(&(Standing::CountingIn { bars: 1 }, 2)), "{stood:?}");
    let playing = stood.iter().find(|(standing, _)| *standing == Standing::Playing).unwrap();
    assert_eq!(playing.1, 2, "{stood:?}");
    for tape in &show.tapes {
        tape.pairs();
        let clicks = onsets(tape, 9, 76);
        assert_eq!(clicks.len(), 1);
        // Silent between the clicks, and the bar's own root on its first beat.
        let first = clicks[0] + BAR;
        let strikes = |heard: &&Heard| matches!(heard.message, Message::NoteOn { channel, .. } if channel != 9);
        let all = tape.all();
        let during = all
            .iter()
            .filter(strikes)
            .filter(|it| (clicks[0] + SECOND / 20..first - SECOND / 10).contains(&it.at));
        assert_eq!(during.count(), 0);
        assert!(onsets(tape, 0, 43).iter().any(|on| (on - first).abs() < SECOND / 10));
    }
}

#[test]
fn clicks_tell_of_changes_if_they_are_wanted() {
    let script = vec![
        (0, Command::ChangeClicks(true).into()),
        (0, Command::Go.into()),
        (8 * BAR + LEAD, Command::ChangeClicks(false).into()),
        (16 * BAR, Command::End.into()),
    ];
    let show = play(script);
    let beat = BAR / 4;
    let tape = &show.tapes[0];
    let begins = show.tapes[0].all()[0].at + LEAD;
    // G | C / D / | G | D | Em | C | D | G / / D, and round to G.
    let changes = [4, 6, 8, 12, 16, 20, 24, 28, 31, 32];
    let wanted: Vec<i64> = changes
        .iter()
        .flat_map(|change| [begins + (change - 1) * beat, begins + change * beat - beat / 2])
        .collect();
    assert_eq!(onsets(tape, 9, 37), wanted);
}

#[test]
fn rounds_are_counted_and_the_last_is_the_last() {
    let show = play(vec![(0, Command::Rounds(Some(3)).into()), (0, Command::Go.into())]);
    assert!(!show.result.unwrap().stopped);
    let begins = show.tapes[0].all()[0].at + LEAD;
    let over = begins + 3 * 8 * BAR;
    assert!((over..over + SECOND).contains(&show.end), "{} for {over}", show.end);
    for tape in &show.tapes {
        tape.pairs();
    }
    let (_, last) = show.statuses.last().unwrap();
    assert_eq!((last.standing, last.round), (Standing::Ended, 3));
    // The second time round other bars are written out; both count.
    let bars: Vec<usize> = show.statuses.iter().map(|(_, status)| status.bar).collect();
    assert!(bars.contains(&15) && bars.contains(&0));
}

#[test]
fn chairs_open_by_turns_from_pass_to_pass() {
    let script = vec![
        (0, Command::Chairs(Chairs::Turns).into()),
        (0, Command::Go.into()),
        (31 * BAR, Command::End.into()),
    ];
    let show = play(script);
    let begins = show.tapes[0].all()[0].at + LEAD;
    for (pass, role) in (0..3).zip(Role::BAND) {
        for tape in &show.tapes {
            let struck = |role: Role| {
                let of = of_channel(tape, role.channel());
                let inside = begins + pass * 8 * BAR..begins + (pass * 8 + 8) * BAR - 100_000_000;
                of.iter().filter(|(at, b)| b[0] >> 4 == 9 && inside.contains(at)).count()
            };
            for other in Role::BAND {
                assert_eq!(struck(other) == 0, other == role, "{other} in pass {pass}");
            }
        }
    }
}

#[test]
fn a_new_score_in_another_key_comes_at_the_bar_line_and_goes_on() {
    let (song, tempo) = looped();
    let other = arrangement("| A | D / E / | A | E |\n| F#m | D | E | A / / E |", "tempo = 150");
    let other = other.excerpt(1..=8, 2).unwrap();
    let score = Box::new(Score::new(9, &other, &performed(&other)));
    let script = vec![
        (0, Command::Go.into()),
        (
            2 * BAR + BAR / 2,
            Command::Play { score, at: Entry::BarLine, from: None, tempo: None }.into(),
        ),
        (5 * BAR, Command::End.into()),
    ];
    let mine = Score::new(0, &song, &performed(&song));
    let show = show(mine, tempo, false, &[DIRECT, QUEUED], script);
    let begins = show.tapes[0].all()[0].at + LEAD;
    let (_, swapped) = show.statuses.iter().find(|(_, status)| status.score == 9).unwrap();
    assert_eq!((swapped.bar, swapped.bar_start.0), (3, begins + 3 * BAR));
    for tape in &show.tapes {
        tape.pairs();
        // Bar 4 is on E now: the bass begins on E, not on D.
        assert!(onsets(tape, 0, 40).iter().any(|at| (at - begins - 3 * BAR).abs() < SECOND / 10));
        let line = begins + 3 * BAR;
        let early: Vec<Heard> = tape.all().into_iter().filter(|it| it.at < line).collect();
        assert!(early.len() > 50);
    }
}

#[test]
fn at_a_jump_what_sounds_ends_and_at_a_wrap_it_rings_on() {
    let (song, tempo) = looped();
    // A note a bar, which rings half through the next.
    let mut performance = performed(&song);
    performance.parts.retain(|part| part.role == Role::Guitar);
    performance.parts[0].notes = (0..16)
        .map(|bar: u8| {
            let start = song.bars[usize::from(bar)].start;
            let pitch = MidiNote::new(50 + bar).unwrap();
            Note {
                start,
                end: start + Ticks::new(3840 * 3 / 2),
                pitch,
                velocity: 80,
                slurred: None,
                bar: bar.into(),
            }
        })
        .collect();
    let script = vec![
        (0, Command::Go.into()),
        (2 * BAR + BAR / 2, Command::Jump(6).into()),
        (20 * BAR, Command::End.into()),
    ];
    let show = show(Score::new(0, &song, &performance), tempo, false, &[DIRECT, QUEUED], script);
    let begins = show.tapes[0].all()[0].at + LEAD;
    // Three bars in order, then from the sixth on to the last and round again.
    let bars = [0, 1, 2, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 0, 1];
    for tape in &show.tapes {
        let mut pairs = tape.pairs();
        pairs.sort_unstable();
        for (played, (bar, &(at, lasted, _, key))) in bars.into_iter().zip(&pairs).enumerate() {
            let jumps = played == 2;
            let wanted = if jumps { BAR } else { BAR * 3 / 2 };
            assert_eq!((at, key), (begins + played as i64 * BAR, 50 + bar));
            assert_eq!(lasted, wanted, "the note of bar {bar}");
        }
    }
}
