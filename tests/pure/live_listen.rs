//! A player beside the band: what is played is kept with its place in the song, whatever the band does
//! meanwhile, and lies where it was heard.

use crate::playing;
use crate::playing::show::{DIRECT, Do, MILLI, QUEUED, SECOND, Show, arrangement, show};
use openchair::arrange::Arrangement;
use openchair::chart::Role;
use openchair::live::{Command, Entry, Score, Tape, ear};
use openchair::perform::{Message, Note, Performance, Swing};
use openchair::take::{HeardBar, Hit, Laid, Recorded, Run};
use openchair::theory::MidiNote;
use openchair::time::{Nanos, Tempo, Ticks};

/// A bar at 120.
const BAR: i64 = 2 * SECOND;

/// A scripted player doubles the bass note for note as it sounds, later by this.
const LATE: i64 = 7 * MILLI;

fn song() -> Arrangement {
    arrangement("| G | C | D | G |\n| Em | C | (2/4) D | D | G |", "tempo = 120")
}

/// A bass alone, with a note a beat, without feel.
fn performed(song: &Arrangement) -> Performance {
    let mut performance = playing::show::performed(song);
    performance.parts.retain(|part| part.role == Role::Bass);
    let bars = (0..).zip(&song.bars);
    let beats = bars.flat_map(|(number, bar)| {
        (0..bar.beats()).map(move |beat| {
            let start = bar.start + bar.beat() * beat;
            let pitch = MidiNote::new(if beat == 0 { 43 } else { 38 }).unwrap();
            Note {
                start,
                end: start + Ticks::EIGHTH,
                pitch,
                velocity: 80,
                slurred: None,
                bar: number,
            }
        })
    });
    performance.parts[0].notes = beats.collect();
    performance
}

fn taped(songs: &[&Arrangement], script: Vec<(i64, Do)>) -> (Show, Tape) {
    let scores = |id: u32, song: &Arrangement| Score::new(id, song, &performed(song));
    let show = show(scores(0, songs[0]), songs[0].tempo, false, &[QUEUED, DIRECT], script);
    let (mut ear, hearing) = ear();
    let mut tape = Tape::new("Kettle Landing".to_owned(), Some(hearing));
    for (_, status) in &show.statuses {
        tape.follow(status, songs[status.score as usize]);
    }
    for heard in show.tapes[0].all() {
        let late = Nanos(heard.at + LATE);
        match heard.message {
            Message::NoteOn { channel, .. } | Message::NoteOff { channel, .. }
                if channel == Role::Bass.channel() =>
            {
                ear.hear(late, &heard.message.bytes().0);
            }
            _ => {}
        }
    }
    tape.stop(Nanos(show.end));
    (show, tape)
}

fn played(songs: &[&Arrangement], script: Vec<(i64, Do)>) -> (Show, Recorded) {
    let (show, tape) = taped(songs, script);
    let recorded = tape.recorded();
    lies_on_its_bars_and_in_time(&show, &recorded);
    (show, recorded)
}

/// By the recording's own tempos each note is as far from the one before as it sounded, to the millisecond.
fn lies_on_its_bars_and_in_time(show: &Show, recorded: &Recorded) {
    let time = |at: Ticks| -> f64 {
        let tempos = recorded.tempos.iter().chain(recorded.tempos.last());
        let ends = recorded.tempos.iter().skip(1).map(|it| it.0).chain([Ticks::new(i64::MAX)]);
        let spans = tempos.zip(ends).filter(|((from, _), _)| *from < at);
        spans.map(|((from, tempo), to)| tempo.nanos(to.min(at) - *from).0 as f64).sum()
    };
    let heard = show.tapes[0].all();
    let bass = |message: &Message| matches!(message, Message::NoteOn { channel: 0, .. });
    let truth: Vec<i64> = heard.iter().filter(|it| bass(&it.message)).map(|it| it.at).collect();
    let struck = recorded.played.iter().filter(|(_, it)| it.struck().is_some());
    let laid: Vec<f64> = struck.map(|&(at, _)| time(at)).collect();
    assert_eq!(laid.len(), truth.len(), "all that was played is there");
    for (laid, truth) in laid.windows(2).zip(truth.windows(2)) {
        let (laid, truth) = (laid[1] - laid[0], truth[1] - truth[0]);
        // A pause is rounded up to bars.
        if truth < BAR {
            assert!((laid - truth as f64).abs() < MILLI as f64, "{laid} ns for {truth}");
        }
    }
    let mut end = Ticks::ZERO;
    for bar in &recorded.bars {
        assert_eq!(bar.start, end);
        end = bar.end();
    }
}

#[test]
fn how_it_goes_is_noticed_while_it_goes() {
    let song = song();
    let (_, tape) = taped(&[&song], vec![(0, Command::Go.into())]);
    let noticed = tape.noticed(&song, Swing::EVEN).unwrap();
    let late = noticed.late_at(song.tempo).0;
    assert!((late - LATE).abs() < MILLI, "{late}");
    // G and three times D is no C.
    let (chord, bar) = noticed.missed.unwrap();
    assert_eq!((song.chord(chord).unwrap().to_string().as_str(), bar), ("C", 6));
    // The same as strokes that a microphone heard, which may be without notes.
    let mut heard = Tape::new(String::new(), None);
    assert!(heard.noticed(&song, Swing::EVEN).is_none());
    let hit = Hit { at: Nanos(0), loud: 80, pitches: Vec::new() };
    assert!(heard.strike(hit.clone()) && !heard.strike(hit));
}

fn numbers(recorded: &Recorded) -> Vec<i64> {
    let number = |heard: &HeardBar| match heard {
        HeardBar::CountIn => -1,
        HeardBar::Silence => -2,
        HeardBar::Song(bar) => bar.number as i64,
    };
    recorded.bars.iter().map(|bar| number(&bar.heard)).collect()
}

/// The bass's notes in a performance, by their time from a bar on, as many bars as the run has.
fn bass(song: &Arrangement, performance: &Performance, from: usize, bars: usize) -> Vec<i64> {
    let part = performance.parts.iter().find(|part| part.role == Role::Bass).unwrap();
    let bars = song.bars[from].start..song.bars[from + bars - 1].end();
    let notes = part.notes.iter().filter(|note| bars.contains(&note.start));
    notes.map(|note| performance.nanos(note.start).0).collect()
}

/// Every stroke lies as much behind the band's as it was played, to the millisecond.
fn lies_behind_the_bass(laid: &Laid, wanted: &[i64]) {
    let at: Vec<i64> = laid.take.hits.iter().map(|hit| hit.at.0 - laid.begins.0).collect();
    assert_eq!(at.len(), wanted.len());
    for (at, wanted) in at.iter().zip(wanted) {
        assert!((at - wanted - LATE).abs() < MILLI, "{at} {wanted}");
    }
}

fn lay(run: &Run, whole: &Arrangement) -> (Arrangement, Performance, Laid) {
    let song = run.heard_of(whole).unwrap();
    let performance = performed(&song);
    let laid = run.laid_over(&song, &performance).unwrap();
    (song, performance, laid)
}

#[test]
fn a_plain_run_lies_on_the_song() {
    let song = song();
    for (bars, room) in [(1, vec![-1]), (2, vec![-1, -1]), (0, vec![-2])] {
        let begin = if bars == 0 { Command::Go } else { Command::CountIn(bars) };
        let (_, recorded) = played(&[&song], vec![(0, begin.into())]);
        assert_eq!(numbers(&recorded), [room, (1..=9).collect()].concat());
        let run = recorded.best_run().unwrap();
        assert_eq!((run.len(), run.tempo, run.looped.clone()), (9, song.tempo, None));
        let (song, performance, laid) = lay(&run, &song);
        lies_behind_the_bass(&laid, &bass(&song, &performance, 0, 9));
        assert_eq!(recorded.tempos, [(Ticks::ZERO, song.tempo)]);
    }
}

#[test]
fn a_pause_is_left_out_and_the_bar_counts_as_it_was_played_after() {
    let song = song();
    let go_on: [fn() -> Command; 2] = [|| Command::Go, || Command::CountIn(1)];
    for (at, go_on) in go_on.into_iter().enumerate() {
        // In the fourth bar, for somewhat more than a bar.
        let script = vec![
            (0, Command::Go.into()),
            (3 * BAR + BAR / 2, Command::Pause.into()),
            (5 * BAR, go_on().into()),
        ];
        let (_, recorded) = played(&[&song], script);
        let between: &[i64] = if at == 0 { &[-2] } else { &[-2, -1] };
        let wanted = [&[-2, 1, 2, 3, 4], between, &[4, 5, 6, 7, 8, 9]].concat();
        assert_eq!(numbers(&recorded), wanted);
        assert_eq!(recorded.runs().len(), 1);
        let run = recorded.best_run().unwrap();
        let (song, performance, laid) = lay(&run, &song);
        lies_behind_the_bass(&laid, &bass(&song, &performance, 0, 9));
    }
}

#[test]
fn a_loop_comes_round_as_often_as_it_was_played() {
    let whole = song();
    let looped = whole.excerpt(2..=4, 2).unwrap();
    let script = vec![(0, Command::Rounds(Some(5)).into()), (0, Command::CountIn(1).into())];
    let (_, recorded) = played(&[&looped], script);
    assert_eq!(numbers(&recorded), [-1, 2, 3, 4, 2, 3, 4, 2, 3, 4, 2, 3, 4, 2, 3, 4]);
    let run = recorded.best_run().unwrap();
    assert_eq!((run.len(), run.looped.clone()), (15, Some(2..=4)));
    let (song, performance, laid) = lay(&run, &whole);
    assert_eq!(song.bars.len(), 15);
    lies_behind_the_bass(&laid, &bass(&song, &performance, 0, 15));
}

#[test]
fn another_tempo_and_a_jump_begin_another_run() {
    let song = song();
    let script = vec![
        (0, Command::Go.into()),
        (2 * BAR + BAR / 3, Command::Tempo(song.tempo.at_speed(50.0)).into()),
    ];
    let (_, recorded) = played(&[&song], script);
    let runs = recorded.runs();
    assert_eq!(runs.iter().map(|run| run.ends().unwrap()).collect::<Vec<_>>(), [(1, 3), (4, 9)]);
    let run = recorded.best_run().unwrap();
    assert_eq!((run.tempo, run.len()), (song.tempo.at_speed(50.0), 6));
    let slow = Tempo::from_micros(1_000_000);
    assert_eq!(recorded.tempos.last().unwrap().1, slow);
    // It is reviewed at the tempo that it was played at.
    let at_half = Arrangement { tempo: slow, ..song.clone() };
    let (at_half, performance, laid) = lay(&run, &at_half);
    lies_behind_the_bass(&laid, &bass(&at_half, &performance, 3, 6));

    let script = vec![(0, Command::Go.into()), (2 * BAR + BAR / 3, Command::Jump(1).into())];
    let (_, recorded) = played(&[&song], script);
    assert_eq!(numbers(&recorded), [-2, 1, 2, 3, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
    let lengths: Vec<usize> = recorded.runs().iter().map(Run::len).collect();
    assert_eq!(lengths, [3, 9]);
    let (song, performance, laid) = lay(&recorded.best_run().unwrap(), &song);
    lies_behind_the_bass(&laid, &bass(&song, &performance, 0, 9));
}

#[test]
fn another_score_goes_on_and_a_loop_that_is_set_begins_anew() {
    let song = song();
    let looped = song.excerpt(4..=6, 4).unwrap();
    let play = |id, song: &Arrangement| Command::Play {
        score: Box::new(Score::new(id, song, &performed(song))),
        at: Entry::BarLine,
        from: None,
        tempo: None,
    };
    let script = vec![
        (0, Command::Go.into()),
        (BAR / 2, play(1, &song).into()),
        (5 * BAR + BAR / 2, play(2, &looped).into()),
        (5 * BAR + BAR / 2, Command::Rounds(Some(3)).into()),
    ];
    let (_, recorded) = played(&[&song, &song, &looped], script);
    assert_eq!(numbers(&recorded), [-2, 1, 2, 3, 4, 5, 6, 4, 5, 6, 4, 5, 6, 4, 5, 6]);
    let runs = recorded.runs();
    let told: Vec<_> = runs.iter().map(|run| (run.len(), run.looped.clone())).collect();
    assert_eq!(told, [(6, None), (9, Some(4..=6))]);
}

#[test]
fn what_was_not_heard_to_its_end_is_no_part_of_a_run() {
    let song = song();
    let script = vec![(0, Command::Go.into()), (BAR / 2, Command::End.into())];
    let (_, recorded) = played(&[&song], script);
    assert!(recorded.strokes() > 0);
    assert_eq!(recorded.best_run(), None);
    let script = vec![(0, Command::Go.into()), (3 * BAR + BAR / 2, Command::End.into())];
    let (_, recorded) = played(&[&song], script);
    assert_eq!(recorded.best_run().unwrap().ends(), Some((1, 3)));
}
