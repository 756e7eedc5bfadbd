//! MIDI clock out, as a receiver counts it; and going with an outside clock.

use crate::playing::probe::Tape;
use crate::playing::show::{
    DIRECT, Do, LEAD, MILLI, QUEUED, SECOND, Show, arrangement, performed, show, show_with,
};
use openchair::arrange::Arrangement;
use openchair::live::{Command, Entry, Follow, Score, Standing};
use openchair::perform::{Message, Sync};
use openchair::time::{Nanos, Tempo, Ticks};

/// 120 beats a minute: two seconds a bar.
const BEAT: i64 = SECOND / 2;
const BAR: i64 = 4 * BEAT;

fn tempo(bpm: f64) -> Tempo {
    Tempo::from_micros((60e6 / bpm) as u32)
}

/// Sixteen bars, one of them short.
fn song() -> Arrangement {
    let line = "| G | C / D / | G | D |\n";
    arrangement(&format!("{line}| G | (2/4) C | D | G |\n{line}{line}"), "tempo = 120")
}

/// A receiver as MIDI 1.0 wants it (Detailed Specification 4.2, from memory): counts timing clocks
/// between start or continue and stop, and others keep its tempo; takes a song position only while
/// stopped. Gives the time of each clock that counts, and where in the song it stands, in clocks.
fn received(tape: &Tape) -> Vec<(i64, u32)> {
    let (mut runs, mut place, mut out) = (false, 0, Vec::new());
    for heard in tape.all() {
        let Message::Sync(sync) = heard.message else { continue };
        match sync {
            Sync::Start => {
                assert!(!runs);
                (runs, place) = (true, 0);
            }
            Sync::Continue => {
                assert!(!runs);
                runs = true;
            }
            Sync::Stop => {
                assert!(runs, "stopped twice");
                runs = false;
            }
            Sync::Position { sixteenths } => {
                assert!(!runs, "a position while running");
                place = u32::from(sixteenths) * 6;
            }
            Sync::Clock if !runs => {}
            Sync::Clock => {
                out.push((heard.at, place));
                place += 1;
            }
        }
    }
    out
}

/// Every bar line that was heard falls on the clock of its place.
fn on_the_clock(show: &Show, song: &Arrangement, of: impl Fn(u32) -> Arrangement) -> usize {
    let clocks = received(&show.tapes[0]);
    let mut lines = 0;
    for (seen, status) in &show.statuses {
        let playing = status.standing == Standing::Playing && *seen >= status.bar_start.0;
        // After a change of tempo it did not begin when it would have at the new one.
        let began = clocks.iter().find(|(at, _)| *at == status.bar_start.0);
        let (true, Some((_, place))) = (playing, began) else { continue };
        let number = of(status.score).bars[status.bar].number;
        let bar = song.bars.iter().find(|bar| bar.number == number).unwrap();
        assert_eq!(i64::from(*place), bar.start.get() / 40, "bar {number}");
        lines += 1;
    }
    lines
}

#[test]
fn a_receiver_is_always_where_the_band_is() {
    let song = song();
    let whole = Score::new(0, &song, &performed(&song));
    let bars = song.excerpt(9..=11, 2).unwrap();
    let excerpt = Box::new(Score::new(1, &bars, &performed(&bars)).placed_in(&song));
    let at = |bars: i64, more: i64| LEAD + bars * BAR + more;
    let script: Vec<(i64, Do)> = vec![
        (0, Command::Go.into()),
        (at(1, BEAT / 3), Command::Tempo(tempo(90.0)).into()),
        (at(2, BEAT / 3), Command::Tempo(tempo(120.0)).into()),
        (at(3, BEAT / 3), Command::Jump(12).into()),
        (at(6, BEAT / 3), Command::Pause.into()),
        (at(7, BEAT / 3), Command::Go.into()),
        (at(8, BEAT / 3), Command::Jump(5).into()),
        (at(12, BEAT / 3), Command::CountIn(1).into()),
        (
            at(16, 0),
            Command::Play { score: excerpt, at: Entry::BarLine, from: None, tempo: None }.into(),
        ),
        (at(30, BEAT / 7), Command::End.into()),
    ];
    for kind in [DIRECT, QUEUED] {
        let whole = whole.clone();
        let script = script.iter().map(again).collect();
        let show = show(whole, song.tempo, true, &[kind, DIRECT], script);
        let of = |score: u32| if score == 0 { song.clone() } else { bars.clone() };
        let lines = on_the_clock(&show, &song, of);
        assert!(lines > 22, "{lines}");
        // What sounds needs no clock.
        let silent =
            |tape: &Tape| !tape.all().iter().any(|it| matches!(it.message, Message::Sync(_)));
        assert!(silent(&show.tapes[1]) && !silent(&show.tapes[0]));
        let all: Vec<Sync> = show.tapes[0]
            .all()
            .iter()
            .filter_map(|it| if let Message::Sync(sync) = it.message { Some(sync) } else { None })
            .collect();
        assert_eq!(all.iter().filter(|&&sync| sync == Sync::Start).count(), 1);
        assert_eq!(all.iter().find(|&&sync| sync != Sync::Clock), Some(&Sync::Start));
        // Clocks lie a 24th of a quarter apart, at the tempo of the moment.
        let clocks = received(&show.tapes[0]);
        let gaps = clocks.windows(2).filter(|pair| pair[1].1 == pair[0].1 + 1);
        let gaps = gaps.map(|pair| pair[1].0 - pair[0].0);
        // A count-in lies between two that follow each other.
        let spread: Vec<i64> = gaps.filter(|gap| *gap < SECOND).collect();
        let near = |gap: i64, bpm: f64| (gap as f64 - 60e9 / bpm / 24.0).abs() < 2_000.0;
        let even = spread.iter().filter(|&&gap| near(gap, 120.0) || near(gap, 90.0)).count();
        assert!(
            spread.len() - even <= 2,
            "only where the tempo changes: {even} of {}",
            spread.len()
        );
    }
}

fn again((at, what): &(i64, Do)) -> (i64, Do) {
    let Do::Tell(command) = what else { unreachable!() };
    let command = match command {
        Command::Play { score, at, from, tempo } => {
            Command::Play { score: score.clone(), at: *at, from: *from, tempo: *tempo }
        }
        Command::Go => Command::Go,
        Command::Pause => Command::Pause,
        Command::End => Command::End,
        Command::CountIn(bars) => Command::CountIn(*bars),
        Command::Jump(number) => Command::Jump(*number),
        Command::Tempo(tempo) => Command::Tempo(*tempo),
        other => unreachable!("{other:?}"),
    };
    (*at, command.into())
}

#[test]
fn a_song_has_24_clocks_a_quarter() {
    let song = song();
    let score = Score::new(0, &song, &performed(&song));
    let show = show(score, song.tempo, true, &[DIRECT], vec![(0, Command::Go.into())]);
    let clocks = received(&show.tapes[0]);
    // Fifteen bars of four quarters and one of two.
    assert_eq!(clocks.len(), 24 * (15 * 4 + 2));
    let begins = clocks[0].0;
    for (index, (at, place)) in clocks.iter().enumerate() {
        assert_eq!(*place as usize, index);
        assert_eq!(*at, begins + song.tempo.nanos(Ticks::new(40 * index as i64)).0);
    }
    let all = show.tapes[0].all();
    let last = all.iter().rfind(|it| matches!(it.message, Message::Sync(_))).unwrap();
    assert_eq!(last.message, Message::Sync(Sync::Stop));
}

#[test]
fn a_place_past_what_a_position_can_say_is_held() {
    // 1,024 bars of four quarters have 16,384 sixteenths.
    let line = "| G | G | G | G | G | G | G | G |\n".repeat(130);
    let song = arrangement(&line, "tempo = 120");
    let score = Score::new(0, &song, &performed(&song));
    let script = vec![
        (0, Command::Go.into()),
        (LEAD + BEAT, Command::Jump(1030).into()),
        (LEAD + 2 * BAR, Command::End.into()),
    ];
    let show = show(score, song.tempo, true, &[DIRECT], script);
    let position = show.tapes[0].all().into_iter().find_map(|it| match it.message {
        Message::Sync(Sync::Position { sixteenths }) => Some(sixteenths),
        _ => None,
    });
    assert_eq!(position, Some(16_383));
}

/// The outside's beats from time `from` on, each told of by 3 ms late, its tempo a little misread.
fn beats(script: &mut Vec<(i64, Do)>, from: i64, first: i64, count: i64, beat: i64, misread: f64) {
    for number in 0..count {
        let at = from + number * beat;
        let place = Ticks::QUARTER * (first + number);
        let told = Tempo::from_micros((beat as f64 / 1000.0 * misread) as u32);
        let beat = Follow::Beat { place, at: Nanos(at), tempo: told };
        script.push((at + 3 * MILLI, Do::Follow(beat)));
    }
}

/// How far bar lines heard from `from` to `to` are from a grid of beats that begins at `zero`.
fn off_the_grid(show: &Show, (from, to): (i64, i64), zero: i64, beat: i64) -> Vec<i64> {
    let lines = show.statuses.iter().filter(|(_, status)| status.standing == Standing::Playing);
    // As they sounded: later in the bar, it is where it would have begun at another tempo.
    let lines =
        lines.filter(|(seen, status)| (0..5 * MILLI).contains(&(seen - status.bar_start.0)));
    let lines = lines.map(|(_, status)| status.bar_start.0).filter(|at| (from..to).contains(at));
    lines.map(|at| (at - zero + beat / 2).rem_euclid(beat) - beat / 2).collect()
}

#[test]
fn it_starts_with_the_outside_and_stays_with_it() {
    let song = song().excerpt(1..=16, 1).unwrap();
    let score = Score::new(0, &song, &performed(&song));
    for kind in [DIRECT, QUEUED] {
        let zero = SECOND;
        let mut script =
            vec![(zero + 3 * MILLI, Do::Follow(Follow::Start(Nanos(zero), tempo(118.0))))];
        // Three bars of the same tempo, then a tenth faster.
        beats(&mut script, zero, 0, 12, BEAT, 1.001);
        let faster = zero + 12 * BEAT;
        beats(&mut script, faster, 12, 40, BEAT * 10 / 11, 0.999);
        let end = faster + 40 * BEAT * 10 / 11;
        script.push((end, Do::Follow(Follow::Stop)));
        script.push((end + SECOND, Command::End.into()));
        let show = show(score.clone(), tempo(100.0), false, &[kind], script);
        let tape = &show.tapes[0];
        tape.pairs();
        // The first note is late by what it took to hear of the start and to be sent.
        let first = tape.notes()[0].at;
        assert!(
            (zero..=zero + 3 * MILLI + kind.1 + 2 * MILLI).contains(&first),
            "{}",
            first - zero
        );
        let at = |beat: i64| zero + beat * BEAT;
        let off = off_the_grid(&show, (at(8), at(12)), zero, BEAT);
        assert!(!off.is_empty() && off.iter().all(|off| off.abs() < MILLI), "{off:?}");
        let off = off_the_grid(&show, (faster + 8 * BEAT, end), faster, BEAT * 10 / 11);
        assert!(off.len() > 6 && off.iter().all(|off| off.abs() < MILLI), "{off:?}");
        assert_eq!(tape.sounding(end + 100 * MILLI), []);
        assert_eq!(show.statuses.last().unwrap().1.standing, Standing::Paused);
    }
}

#[test]
fn beats_alone_are_met_by_the_nearest_way() {
    let song = song().excerpt(1..=16, 1).unwrap();
    let score = Score::new(0, &song, &performed(&song));
    for phase in [-4, -2, 3, 5] {
        // The player starts the band a little before or after one of the outside's beats, whose count
        // began long ago.
        let zero = SECOND + phase * BEAT / 10;
        let mut script = vec![(SECOND - LEAD, Command::Go.into())];
        beats(&mut script, zero, 1001, 40, BEAT, 1.0);
        script.push((zero + 40 * BEAT, Command::End.into()));
        let show = show(score.clone(), song.tempo, false, &[DIRECT], script);
        let off = off_the_grid(&show, (zero + 8 * BEAT, zero + 40 * BEAT), zero, BEAT);
        assert!(off.len() > 5 && off.iter().all(|off| off.abs() < MILLI), "{phase}: {off:?}");
        // Never more than a tenth off the outside's tempo.
        for (_, status) in &show.statuses {
            let micros = f64::from(status.tempo.micros_per_quarter());
            assert!((450_000.0..=550_000.0).contains(&micros), "{micros}");
        }
    }
}

#[test]
fn it_continues_inside_a_bar_and_leaps_where_it_is_far_off() {
    let song = song();
    let score = Score::new(0, &song, &performed(&song));
    let place = Ticks::new(2 * 3840 + 2 * 960 + 480);
    let at = Nanos(SECOND);
    let leap = Follow::Beat {
        place: place + Ticks::QUARTER * 10,
        at: Nanos(SECOND + 6 * BEAT),
        tempo: tempo(120.0),
    };
    let script = vec![
        (SECOND, Do::Follow(Follow::Continue { place, at, tempo: tempo(120.0) })),
        (SECOND + 6 * BEAT, Do::Follow(leap)),
        (SECOND + 20 * BEAT, Command::End.into()),
    ];
    let show = show(score, song.tempo, true, &[QUEUED], script);
    show.tapes[0].pairs();
    let (_, first) = show.statuses.iter().find(|(_, s)| s.standing == Standing::Playing).unwrap();
    assert_eq!((first.bar, first.bar_start.0), (2, SECOND - 5 * BEAT / 2));
    let notes = show.tapes[0].notes();
    assert!(notes[0].at >= SECOND, "what lies before is past");
    // Ten beats on at the time of six: in bar 5, half a beat into its first beat… by the outside.
    let (_, leapt) =
        show.statuses.iter().find(|(seen, _)| *seen > SECOND + 6 * BEAT + 5 * MILLI).unwrap();
    assert_eq!(leapt.bar, 5, "{leapt:?}");
    let clocks = received(&show.tapes[0]);
    assert_eq!(clocks[0].1, 3 * 96, "the clock that is sent begins with the next bar");
}

/// When timing clocks are sent, those that count and the others.
fn timing_clocks(tape: &Tape) -> Vec<i64> {
    let clock = Message::Sync(Sync::Clock);
    tape.all().iter().filter(|it| it.message == clock).map(|it| it.at).collect()
}

/// As MIDI 1.0 recommends (Detailed Specification 4.2, from memory): who follows keeps the tempo while nothing runs.
#[test]
fn timing_clocks_go_on_through_pauses_and_count_ins() {
    let song = song();
    let score = Score::new(0, &song, &performed(&song));
    let script: Vec<(i64, Do)> = vec![
        (SECOND, Command::CountIn(1).into()),
        (SECOND + 3 * BAR + BEAT / 3, Command::Pause.into()),
        (SECOND + 5 * BAR, Command::Tempo(tempo(90.0)).into()),
        (SECOND + 7 * BAR, Command::Go.into()),
        (SECOND + 9 * BAR, Command::End.into()),
    ];
    for kind in [DIRECT, QUEUED] {
        let script = script.iter().map(again).collect();
        let show = show(score.clone(), song.tempo, true, &[kind], script);
        let clocks = timing_clocks(&show.tapes[0]);
        let gaps: Vec<i64> = clocks.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let clock = |bpm: f64| (60e9 / bpm / 24.0) as i64;
        // Sixteen seconds before the tempo changes at least, and never a hole.
        assert!(clocks[0] < SECOND && clocks.len() as i64 > 12 * SECOND / clock(120.0));
        let odd: Vec<i64> = gaps
            .iter()
            .copied()
            .filter(|gap| (gap - clock(120.0)).abs() > 2_000 && (gap - clock(90.0)).abs() > 2_000)
            .collect();
        // Where the count-in begins, the tempo changes, and the song goes on.
        assert!(odd.len() <= 4, "{odd:?}");
        assert!(odd.iter().all(|gap| *gap < 2 * clock(90.0)), "{odd:?}");
    }
}

#[test]
fn a_slow_receiver_has_its_time_and_is_where_the_band_is() {
    const GAP: i64 = 5 * MILLI;
    let song = song();
    let score = Score::new(0, &song, &performed(&song));
    let at = |bars: i64, more: i64| LEAD + bars * BAR + more;
    let script: Vec<(i64, Do)> = vec![
        (0, Command::Go.into()),
        (at(1, BEAT / 3), Command::Jump(12).into()),
        (at(4, BEAT / 3), Command::Pause.into()),
        (at(5, BEAT / 3), Command::Go.into()),
        (at(7, BEAT / 3), Command::Jump(5).into()),
        (at(12, 0), Command::End.into()),
    ];
    for kind in [DIRECT, QUEUED] {
        let script = script.iter().map(again).collect();
        let show = show_with(score.clone(), song.tempo, Some(Nanos(GAP)), &[kind], script);
        let words: Vec<(i64, Sync)> = show.tapes[0]
            .all()
            .iter()
            .filter_map(|it| match it.message {
                Message::Sync(sync) if sync != Sync::Clock => Some((it.at, sync)),
                _ => None,
            })
            .collect();
        assert!(words.len() >= 10, "{words:?}");
        // To the tick: half a millisecond.
        let close = words.windows(2).find(|pair| pair[1].0 - pair[0].0 < GAP - MILLI / 2);
        assert_eq!(close, None, "{words:?}");
        // The first clock that counts comes a gap after the continue, and stands where the band is.
        let clocks = received(&show.tapes[0]);
        for (at, _) in words.iter().filter(|it| it.1 == Sync::Continue) {
            let first = clocks.iter().find(|it| it.0 >= *at).unwrap();
            assert!((GAP - MILLI / 2..SECOND / 8).contains(&(first.0 - at)), "{at} {first:?}");
        }
        let lines = on_the_clock(&show, &song, |_| song.clone());
        assert!(lines >= 8, "{lines}");
    }
}
