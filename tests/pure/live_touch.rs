//! What a touch on a screen leads to: places and values, where keys know steps.

use crate::common::stage;
use openchair::backup::Level;
use openchair::chart::{Role, RoleSet};
use openchair::live::{
    Action, Answer, ChordsAs, Command, Control, Desk, Settings, Standing, Status,
};
use openchair::live::{Touch, Wish, engine};
use openchair::practice::Chairs;
use openchair::rehearsal::{Rehearsal, Shipped, Wishes};
use openchair::theory::Key;
use openchair::time::Nanos;

/// Marit's lantern: seven passes of verse (16 bars) and chorus.
fn opened(wishes: Wishes) -> (Desk, Status) {
    let source = Shipped::song("lantern-on-the-landing").unwrap();
    let mut desk =
        Desk::new(Rehearsal::read(&source, &Shipped, wishes).unwrap(), Wish::default()).unwrap();
    let score = desk.open().unwrap().score.id();
    let status = Status { score, ..stage::playing(desk.arrangement(score).unwrap(), 3) };
    (desk, status)
}

fn plays(answer: &Answer) -> bool {
    answer.commands.iter().any(|command| matches!(command, Command::Play { .. }))
}

#[test]
fn a_touched_bar_comes_after_the_bar_line_and_is_held_to_the_loop() {
    let (mut desk, status) = opened(Wishes::default());
    let answer = desk.touch(Touch::Bar(17), &status);
    assert!(matches!(answer.commands[..], [Command::Jump(17)]));
    assert!(plays(&desk.touch(Touch::Loop(5..=8), &status)));
    assert_eq!(desk.stretch(), Some(5..=8));
    let answer = desk.touch(Touch::Bar(2), &status);
    assert!(matches!(answer.commands[..], [Command::Jump(5)]));
    let answer = desk.touch(Touch::Loop(9_000..=9_001), &status);
    assert_eq!(answer.message.as_deref(), Some("the ending can't be looped"));
    assert_eq!(desk.stretch(), Some(5..=8));
}

#[test]
fn speed_and_key_are_what_was_touched() {
    let (mut desk, status) = opened(Wishes::default());
    let answer = desk.touch(Touch::Speed(62.0), &status);
    assert!(matches!(answer.commands[..], [Command::Tempo(_), Command::Play { .. }]));
    // Both are rounded to a microsecond.
    let (is, meant) = (desk.whole().tempo, desk.full_tempo().at_speed(62.0));
    assert!(is.micros_per_quarter().abs_diff(meant.micros_per_quarter()) <= 1, "{is:?} {meant:?}");
    let key = Key::parse("Bb").unwrap();
    assert!(plays(&desk.touch(Touch::Key(key), &status)));
    assert_eq!(desk.whole().key, key);
}

#[test]
fn a_banjo_that_fills_the_chair_takes_the_place_of_the_bands_own() {
    let band = vec![Role::Bass, Role::Guitar, Role::Banjo];
    let (mut desk, status) = opened(Wishes { band, ..Wishes::default() });
    let answer = desk.touch(Touch::Banjo(Some(Level::Sixths)), &status);
    assert!(plays(&answer), "{:?}", answer.message);
    assert!(!desk.whole().band.contains(Role::Banjo));
    assert_eq!(desk.rehearsal().wishes().banjo, Some(Level::Sixths));
    assert_eq!(desk.shown().tab, Some(Level::Sixths));
    desk.act(Action::SitOut(Role::Banjo), &status, Nanos(0));
    assert!(desk.muted().contains(Role::Banjo));
    desk.touch(Touch::Banjo(Some(Level::Full)), &status);
    assert_eq!(desk.muted(), RoleSet::EMPTY, "who is asked in plays");
    assert!(plays(&desk.touch(Touch::Banjo(None), &status)));
    assert_eq!(desk.rehearsal().wishes().banjo, None);
}

#[test]
fn chairs_and_what_is_shown_change_no_note() {
    let (mut desk, status) = opened(Wishes::default());
    let answer = desk.touch(Touch::Chairs(Chairs::Turns), &status);
    assert!(matches!(answer.commands[..], [Command::Chairs(Chairs::Turns)]));
    assert_eq!(desk.chairs(), Chairs::Turns);
    desk.touch(Touch::Tab(None), &status);
    assert!(desk.tablature(status.score, RoleSet::EMPTY).is_none());
    desk.touch(Touch::Tab(Some(Level::Plain)), &status);
    let tab = desk.tablature(status.score, RoleSet::EMPTY).unwrap();
    assert_eq!((tab.level, tab.bars.len()), (Level::Plain, desk.whole().bars.len()));
    assert_eq!(desk.touch(Touch::Chords(ChordsAs::Numbers), &status).commands.len(), 0);
    assert_eq!(desk.shown().chords, ChordsAs::Numbers);
}

/// For a page in a browser, which has no thread that could wait.
#[test]
fn turn_by_turn_the_engine_plays_as_it_does_in_its_thread() {
    let (mut desk, _) = opened(Wishes { count_in: 0, ..Wishes::default() });
    let opening = desk.open().unwrap();
    let (mut engine, mut ends) = engine(Settings {
        score: opening.score,
        tempo: opening.tempo,
        clock: None,
        plays_on: true,
    });
    opening.commands.into_iter().for_each(|command| ends.remote.send(command).unwrap());
    engine.begin(Nanos(0));
    let control = Control::new();
    let (mut now, mut seen) = (0, Vec::new());
    let bar = desk.whole().tempo.nanos(desk.whole().meter.bar()).0;
    while now < 4 * bar {
        assert!(!engine.turn(Nanos(now), &control));
        while let Some(status) = ends.remote.next_status() {
            seen.push((status.standing, status.bar));
        }
        now += 3_000_000;
    }
    let played: Vec<usize> =
        seen.iter().filter(|(standing, _)| *standing == Standing::Playing).map(|it| it.1).collect();
    assert_eq!(played.last(), Some(&3));
    ends.remote.send(Command::End).unwrap();
    assert!(engine.turn(Nanos(now), &control));
}
