//! What a player's actions lead to: the commands for the playing thread, and the words for the screen.

use std::num::NonZeroU32;

use crate::common::shipped;
use crate::common::stage;
use openchair::backup::Level;
use openchair::chart::{Role, RoleSet};
use openchair::live::{Action, Answer, Command, Desk, Entry, Opening, Standing, Status, Wish};
use openchair::practice::{Ramp, SitOutRule, Stretch};
use openchair::rehearsal::{Rehearsal, Wishes};
use openchair::time::{Nanos, Tempo};

/// Marit's lantern: seven passes of verse (16 bars) and chorus.
fn asked(wishes: Wishes, wish: Wish) -> Desk {
    let root = env!("CARGO_MANIFEST_DIR");
    let read = |path: &str| std::fs::read_to_string(format!("{root}/{path}")).unwrap();
    let song = shipped::song(&read("songs/lantern-on-the-landing.toml"));
    let style = shipped::style("boom-chick", &read("backing-styles/boom-chick.toml"));
    let wishes = Wishes { count_in: 1, ..wishes };
    Desk::new(Rehearsal::new(song, style, wishes).unwrap(), wish).unwrap()
}

fn desk(wish: Wish) -> Desk {
    asked(Wishes::default(), wish)
}

fn wish() -> Wish {
    Wish::default()
}

fn bars(text: &str) -> Option<Stretch> {
    Stretch::parse(text).ok()
}

/// The band plays the bar of that number of the song.
fn playing(desk: &Desk, score: u32, number: usize) -> Status {
    Status { score, ..stage::playing(desk.arrangement(score).unwrap(), number) }
}

/// The jump that an answer asks for.
fn target(answer: &Answer) -> Option<usize> {
    answer.commands.iter().find_map(|command| match command {
        Command::Jump(bar) => Some(*bar),
        _ => None,
    })
}

/// The score that an answer sends, and when it is to come.
fn sent(commands: &[Command]) -> Option<(u32, Entry, Option<Tempo>)> {
    commands.iter().find_map(|command| match command {
        Command::Play { score, at, tempo, .. } => Some((score.id(), *at, *tempo)),
        _ => None,
    })
}

#[test]
fn what_is_left_to_the_player_goes_with_the_chairs() {
    use openchair::coverage::Job;
    let mut desk = desk(wish());
    let id = desk.open().unwrap().score.id();
    let mut first = |silent: RoleSet| desk.coverage(id, silent).unwrap().bars[0].job;
    let out = |role| RoleSet::EMPTY.with(role);
    assert_eq!(first(RoleSet::EMPTY), Job::RollSoft);
    assert_eq!(first(out(Role::Chop)), Job::Vamp);
    assert_eq!(first(out(Role::Bass)), Job::Boom);
    assert_eq!(first(RoleSet::EMPTY), Job::RollSoft, "called back");
    assert!(desk.coverage(id + 1, RoleSet::EMPTY).is_none(), "no such score was sent");
}

#[test]
fn it_opens_with_all_that_was_wished_for() {
    let sit_out = ["guitar", "chop@verse"].map(|rule| SitOutRule::parse(rule).unwrap()).to_vec();
    let mut desk = asked(Wishes { sit_out, ..Wishes::default() }, wish());
    let Opening { score, tempo, commands } = desk.open().unwrap();
    let muted: RoleSet = [Role::Guitar].into_iter().collect();
    assert!(matches!(commands[1], Command::Mute(set) if set == muted), "and can be called back");
    assert_eq!((score.id(), tempo), (1, desk.whole().tempo));
    assert!(matches!(commands.last(), Some(Command::CountIn(1))));
    let verse = &desk.whole().bars[0];
    assert!(verse.resting.contains(Role::Chop) && !verse.resting.contains(Role::Guitar));
    let answer = desk.act(Action::SitOut(Role::Guitar), &playing(&desk, 1, 1), Nanos(0));
    assert!(matches!(answer.commands[..], [Command::Mute(RoleSet::EMPTY)]));
    assert_eq!(answer.message.as_deref(), Some("the guitar plays again"));
}

#[test]
fn jumps_add_up_until_the_bar_line() {
    let mut desk = desk(wish());
    desk.open().unwrap();
    let at = playing(&desk, 1, 20);
    let press = |desk: &mut Desk, action| target(&desk.act(action, &at, Nanos(0)));
    assert_eq!(press(&mut desk, Action::BarBack), Some(19));
    assert_eq!(press(&mut desk, Action::BarBack), Some(18));
    assert_eq!(press(&mut desk, Action::BarForward), Some(19));
    // Past the bar line, counting begins anew.
    let later = playing(&desk, 1, 19);
    assert!(desk.watch(&later).is_empty());
    assert_eq!(target(&desk.act(Action::BarForward, &later, Nanos(0))), Some(21));
    let first = playing(&desk, 1, 1);
    desk.watch(&first);
    assert_eq!(target(&desk.act(Action::BarBack, &first, Nanos(0))), Some(1), "no bar before it");
}

#[test]
fn sections_go_by_the_form() {
    let mut desk = desk(wish());
    desk.open().unwrap();
    let starts: Vec<usize> = {
        let whole = desk.whole();
        let start = |pass| whole.bars.iter().find(|bar| bar.pass == pass).unwrap().number;
        (0..whole.passes.len()).map(start).collect()
    };
    let mut press = |number, action| {
        let at = playing(&desk, 1, number);
        desk.watch(&at);
        target(&desk.act(action, &at, Nanos(0))).unwrap()
    };
    assert_eq!(press(starts[1] + 3, Action::SectionBack), starts[1], "its own beginning first");
    assert_eq!(press(starts[2], Action::SectionBack), starts[1]);
    assert_eq!(press(starts[2] + 1, Action::SectionForward), starts[3]);
    assert_eq!(press(1, Action::SectionBack), 1);
    assert_eq!(press(starts[2] + 1, Action::SectionForward), starts[3]);
}

#[test]
fn a_loop_is_the_section_or_from_one_bar_to_another() {
    let mut desk = desk(wish());
    desk.open().unwrap();
    let at = playing(&desk, 1, 5);
    let answer = desk.act(Action::LoopSection, &at, Nanos(0));
    assert_eq!(answer.message.as_deref(), Some("looping bars 1 to 16"));
    let (id, place, _) = sent(&answer.commands).unwrap();
    assert_eq!(place, Entry::BarLine);
    let round = desk.arrangement(id).unwrap();
    assert_eq!(round.round, Some(16));
    assert_eq!(round.bars[16].number, 1, "and round again");
    let at = playing(&desk, id, 7);
    assert_eq!(target(&desk.act(Action::SectionForward, &at, Nanos(0))), Some(1), "it comes round");
    let answer = desk.act(Action::LoopSection, &at, Nanos(0));
    assert_eq!(desk.stretch(), None);
    let (id, ..) = sent(&answer.commands).unwrap();
    assert_eq!(desk.arrangement(id).unwrap().round, None);
    desk.act(Action::LoopFrom, &playing(&desk, id, 11), Nanos(0));
    desk.act(Action::LoopTo, &playing(&desk, id, 9), Nanos(0));
    assert_eq!(desk.stretch(), Some(9..=11), "whichever was marked first");
    assert_eq!(desk.act(Action::LoopOff, &at, Nanos(0)).message.unwrap(), "no more looping");
    assert_eq!(desk.act(Action::LoopOff, &at, Nanos(0)).message.unwrap(), "nothing is looped");
}

#[test]
fn the_ending_is_not_looped() {
    let mut desk = desk(wish());
    desk.open().unwrap();
    let last = desk.whole().bars.len();
    let answer = desk.act(Action::LoopSection, &playing(&desk, 1, last), Nanos(0));
    assert!(answer.commands.is_empty());
    assert_eq!(answer.message.as_deref(), Some("the ending can't be looped"));
}

#[test]
fn tempo_is_at_once_and_its_score_at_the_bar_line() {
    let mut desk = desk(wish());
    desk.open().unwrap();
    let at = playing(&desk, 1, 5);
    let answer = desk.act(Action::Slower, &at, Nanos(0));
    let [Command::Tempo(tempo), Command::Play { at: Entry::BarLine, from: None, .. }] =
        answer.commands.as_slice()
    else {
        panic!("{answer:?}")
    };
    assert!((tempo.beats_per_minute(desk.song().meter) - 108.0 * 0.96).abs() < 0.01);
    assert_eq!(answer.message.as_deref(), Some("96 % · tempo 104"));
    desk.act(Action::SpeedHalf, &at, Nanos(0));
    assert_eq!(desk.whole().tempo, Tempo::new(54.0, desk.song().meter, 100.0));
    for _ in 0..50 {
        desk.act(Action::Slower, &at, Nanos(0));
    }
    let tempo = desk.whole().tempo.beats_per_minute(desk.song().meter);
    assert!((tempo - 10.8).abs() < 0.01, "a tenth is the slowest: {tempo}");
    // 90 a minute: 666.667 ms.
    for tap in 0..4 {
        desk.act(Action::Tap, &at, Nanos(tap * 666_666_667));
    }
    let tempo = desk.whole().tempo.beats_per_minute(desk.song().meter);
    assert!((tempo - 90.0).abs() < 0.01, "{tempo}");
}

#[test]
fn a_ramp_climbs_a_step_a_round_and_a_hand_on_the_tempo_ends_it() {
    let ramp = Some(Ramp { from: 60.0, to: 70.0, step: 4.0 });
    let wishes = Wishes { stretch: bars("5-8"), ..Wishes::default() };
    let mut desk = asked(wishes, Wish { ramp, ..wish() });
    let first = desk.open().unwrap();
    let meter = desk.song().meter;
    let speed = |tempo: Tempo| (tempo.beats_per_minute(meter) / 108.0 * 100.0).round();
    assert_eq!(speed(first.tempo), 60.0);
    let mut status = playing(&desk, first.score.id(), 5);
    let mut heard = Vec::new();
    for round in 0..5 {
        status.round = round;
        status.bar = 4 * round as usize;
        let commands = desk.watch(&status);
        assert!(desk.watch(&status).is_empty(), "once a round");
        let Some((id, place, tempo)) = sent(&commands) else { continue };
        assert_eq!(place, Entry::Round);
        heard.push((round, speed(tempo.unwrap())));
        status.score = id;
    }
    assert_eq!(heard, [(0, 64.0), (1, 68.0), (2, 70.0)]);
    desk.act(Action::Faster, &status, Nanos(0));
    assert_eq!(desk.ramp(), None);
    status.round = 9;
    assert!(desk.watch(&status).is_empty());
}

#[test]
fn keys_move_by_half_steps() {
    let mut desk = desk(wish());
    desk.open().unwrap();
    let at = playing(&desk, 1, 5);
    let answer = desk.act(Action::KeyUp, &at, Nanos(0));
    assert_eq!(answer.message.as_deref(), Some("key of Ab from the next bar"));
    desk.act(Action::KeyUp, &at, Nanos(0));
    desk.act(Action::KeyUp, &at, Nanos(0));
    assert_eq!(desk.whole().key.to_string(), "Bb");
    for _ in 0..12 {
        desk.act(Action::KeyDown, &at, Nanos(0));
    }
    assert_eq!(desk.whole().key.to_string(), "Bb");
}

#[test]
fn an_outside_clock_keeps_the_tempo() {
    let mut desk = desk(Wish { follows: true, ..wish() });
    let Opening { commands, .. } = desk.open().unwrap();
    assert!(!commands.iter().any(|c| matches!(c, Command::Go | Command::CountIn(_))));
    let mut status = playing(&desk, 1, 5);
    assert!(desk.act(Action::Faster, &status, Nanos(0)).commands.is_empty());
    let meter = desk.song().meter;
    status.tempo = Tempo::new(110.0, meter, 100.0);
    assert!(desk.watch(&status).is_empty(), "near enough");
    status.tempo = Tempo::new(140.0, meter, 100.0);
    assert!(sent(&desk.watch(&status)).is_some());
    assert!((desk.whole().tempo.beats_per_minute(meter) - 140.0).abs() < 0.01);
}

#[test]
fn a_hasty_hand_does_not_lose_what_is_heard() {
    let mut desk = desk(wish());
    desk.open().unwrap();
    let at = playing(&desk, 1, 20);
    desk.watch(&at);
    for press in 0..200 {
        let action = if press % 3 == 0 { Action::KeyDown } else { Action::KeyUp };
        desk.act(action, &at, Nanos(0));
    }
    let heard = desk.arrangement(1).expect("still played until the bar line");
    assert_eq!((heard.key.to_string(), heard.bars[at.bar].number), ("G".to_owned(), 20));
    // A loop is marked by the bar that is heard.
    desk.act(Action::LoopFrom, &at, Nanos(0));
    assert_eq!(desk.mark(), Some(20));
}

#[test]
fn a_loop_is_known_as_part_of_its_song() {
    let wishes = Wishes { stretch: bars("18-19"), rounds: NonZeroU32::new(4), ..Wishes::default() };
    let mut desk = asked(wishes, wish());
    let first = desk.open().unwrap().score.id();
    let whole = desk.whole_of(first).unwrap();
    assert_eq!((whole.round, whole.passes.len()), (None, 8));
    assert_eq!(whole.key, desk.arrangement(first).unwrap().key);
    let at = playing(&desk, first, 18);
    desk.watch(&at);
    desk.act(Action::KeyUp, &at, Nanos(0));
    assert_eq!(desk.whole_of(first).unwrap().key.to_string(), "G", "until the bar line");
    assert_eq!(desk.rounds(), Some(4));
    desk.act(Action::LoopOff, &at, Nanos(0));
    assert_eq!(desk.rounds(), None, "they were the loop's");
}

#[test]
fn within_a_loop_jumps_come_round() {
    let mut desk = asked(Wishes { stretch: bars("5-8"), ..Wishes::default() }, wish());
    let score = desk.open().unwrap().score.id();
    let mut press = |number, action| {
        let at = playing(&desk, score, number);
        desk.watch(&at);
        target(&desk.act(action, &at, Nanos(0))).unwrap()
    };
    assert_eq!(press(7, Action::BarForward), 5, "after bar 8 comes bar 5");
    assert_eq!(press(8, Action::SectionForward), 5);
    assert_eq!(press(5, Action::BarBack), 5);
    assert_eq!(press(6, Action::SectionBack), 5);
}

#[test]
fn a_drill_keeps_its_key_and_its_loop() {
    let ramp = Some(Ramp { from: 60.0, to: 100.0, step: 4.0 });
    let mut desk = desk(Wish { ramp, drills: true, ..wish() });
    let score = desk.open().unwrap().score.id();
    let at = playing(&desk, score, 2);
    let before = desk.stretch();
    for action in [
        Action::LoopSection,
        Action::LoopFrom,
        Action::LoopTo,
        Action::LoopOff,
        Action::KeyUp,
        Action::KeyDown,
    ] {
        let answer = desk.act(action, &at, Nanos(0));
        assert!(answer.commands.is_empty(), "{action:?}");
        assert!(answer.message.unwrap().starts_with("a drill"), "{action:?}");
    }
    assert_eq!((desk.stretch(), desk.ramp(), desk.mark()), (before, ramp, None));
}

#[test]
fn what_is_said_fits_how_the_band_stands() {
    let mut desk = desk(wish());
    desk.open().unwrap();
    let mut at = playing(&desk, 1, 5);
    let said = |desk: &mut Desk, action, at: &Status| desk.act(action, at, Nanos(0)).message;
    assert_eq!(said(&mut desk, Action::CountIn, &at), None, "the screen counts");
    at.standing = Standing::Paused;
    assert_eq!(said(&mut desk, Action::KeyUp, &at).as_deref(), Some("key of Ab"));
    assert_eq!(said(&mut desk, Action::CountIn, &at), None, "the screen counts");
}

#[test]
fn a_count_in_leads_back_into_the_bar() {
    let mut desk = desk(wish());
    desk.open().unwrap();
    let mut at = playing(&desk, 1, 5);
    let mut commands = |standing| {
        at.standing = standing;
        let answer = desk.act(Action::CountIn, &at, Nanos(0));
        answer.commands.iter().map(|command| format!("{command:?}")).collect::<Vec<_>>()
    };
    // What is paused goes on from the beginning of its bar.
    assert_eq!(commands(Standing::Playing), ["Pause", "CountIn(1)"]);
    assert_eq!(commands(Standing::CountingIn { bars: 1 }), ["Pause", "CountIn(1)"]);
    assert_eq!(commands(Standing::Paused), ["CountIn(1)"]);
}

#[test]
fn whoever_has_a_part_in_the_style_is_brought_in() {
    let band = vec![Role::Bass, Role::Guitar];
    let mut desk = asked(Wishes { band, ..Wishes::default() }, wish());
    let status = opened(&mut desk);
    let answer = desk.act(Action::SitOut(Role::Fiddle), &status, Nanos(0));
    assert_eq!(answer.message.as_deref(), Some("the fiddle comes in from the next bar"));
    let (score, entry, _) = sent(&answer.commands).unwrap();
    assert_eq!(entry, Entry::BarLine);
    let joined = desk.arrangement(score).unwrap().band;
    assert_eq!(joined, [Role::Bass, Role::Guitar, Role::Fiddle].into_iter().collect());
    // From then on it is one of the band.
    let status = Status { score, ..status };
    let answer = desk.act(Action::SitOut(Role::Fiddle), &status, Nanos(0));
    assert_eq!(answer.message.as_deref(), Some("the fiddle sits out"));
    assert_eq!(desk.muted(), RoleSet::EMPTY.with(Role::Fiddle));
    let answer = desk.act(Action::SitOut(Role::Fiddle), &status, Nanos(0));
    assert_eq!(answer.message.as_deref(), Some("the fiddle plays again"));
    // Whoever the style has nothing for stays out.
    let style = desk.style().clone();
    let without: Vec<Role> =
        Role::ALL.into_iter().filter(|role| style.part(*role).is_none()).collect();
    for role in without {
        let answer = desk.act(Action::SitOut(role), &status, Nanos(0));
        assert_eq!(answer.message.unwrap(), format!("boom-chick has no part for the {role}"));
        assert!(answer.commands.is_empty());
    }
}

/// It covers for whoever is out, as the player would.
#[test]
fn a_banjo_that_fills_the_chair_goes_with_the_chairs() {
    let banjo = Some(Level::Full);
    let mut desk = asked(Wishes { banjo, ..Wishes::default() }, wish());
    let channel = format!("channel: {}", Role::Banjo.channel());
    let picked = |score: &openchair::live::Score| {
        let told = format!("{score:?}");
        told.split("ScoreNote").filter(|note| note.contains(&channel)).map(str::to_owned).collect()
    };
    let opening = desk.open().unwrap();
    let first: Vec<String> = picked(&opening.score);
    assert!(first.len() > 500, "{}", first.len());
    let status = playing(&desk, opening.score.id(), 1);
    let answer = desk.act(Action::SitOut(Role::Chop), &status, Nanos(0));
    assert_eq!(answer.message.as_deref(), Some("the chop sits out"));
    let next: Vec<String> = answer
        .commands
        .iter()
        .find_map(|command| match command {
            Command::Play { score, .. } => Some(picked(score)),
            _ => None,
        })
        .unwrap();
    assert_ne!(first, next, "it vamps for the chop");
    // And it sits out itself, as anyone.
    let answer = desk.act(Action::SitOut(Role::Banjo), &status, Nanos(0));
    assert_eq!(answer.message.as_deref(), Some("the banjo sits out"));
    assert!(desk.muted().contains(Role::Banjo));
}

#[test]
fn keys_choose_how_chords_are_written_and_which_tab_is_shown() {
    use openchair::backup::Level;
    use openchair::live::ChordsAs;
    let mut desk = desk(wish());
    let status = opened(&mut desk);
    let chords = |desk: &mut Desk| {
        desk.act(Action::ChordNames, &status, Nanos(0));
        desk.shown().chords
    };
    assert_eq!(chords(&mut desk), ChordsAs::Numbers);
    assert_eq!(chords(&mut desk), ChordsAs::Names, "G needs no capo");
    desk.act(Action::KeyUp, &status, Nanos(0));
    assert_eq!(chords(&mut desk), ChordsAs::Numbers);
    assert_eq!(chords(&mut desk), ChordsAs::Shapes);
    assert_eq!(chords(&mut desk), ChordsAs::Names);

    let full = desk.tab(status.score, RoleSet::EMPTY).unwrap();
    assert_eq!(full.len(), desk.arrangement(status.score).unwrap().bars.len());
    assert!(full.iter().all(|bar| bar.lines().filter(|row| row.contains('|')).count() == 5));
    let vamps = desk.tab(status.score, RoleSet::EMPTY.with(Role::Chop)).unwrap();
    assert!(full != vamps, "it goes with the chairs");
    let mut levels = Vec::new();
    for _ in 0..5 {
        desk.act(Action::Tab, &status, Nanos(0));
        levels.push(desk.shown().tab);
        assert_eq!(desk.tab(status.score, RoleSet::EMPTY).is_some(), levels.last() != Some(&None));
    }
    let all = Level::ALL.map(Some);
    assert_eq!(levels, [None, all[0], all[1], all[2], all[3]]);
}

#[test]
fn another_loop_is_counted_from_its_own_first_round() {
    let ramp = Some(Ramp { from: 60.0, to: 100.0, step: 4.0 });
    let mut desk = desk(Wish { ramp, drills: true, ..wish() });
    let mut status = opened(&mut desk);
    status.round = 3;
    desk.watch(&status);
    // The next change is asked for in the round's last bar, whose end the band counts as well.
    let song = desk.song().clone();
    let answer = desk.take_up(song.clone(), ramp, &status).unwrap();
    assert!(matches!(answer.commands.last(), Some(Command::CountIn(1))));
    status.score = sent(&answer.commands).unwrap().0;
    status.round = 4;
    let commands = desk.watch(&status);
    assert_eq!(desk.rounds_before(), 4);
    let speed = sent(&commands).unwrap().2.unwrap().beats_per_minute(desk.song().meter) / 1.08;
    assert_eq!(speed.round(), 64.0, "the second round's, and not the third's");
    // Whoever pauses is not ready yet.
    status.standing = Standing::Paused;
    let answer = desk.take_up(song, ramp, &status).unwrap();
    assert!(matches!(answer.commands[..], [Command::Play { .. }]));
}

/// Opened, and playing its first bar.
fn opened(desk: &mut Desk) -> Status {
    let score = desk.open().unwrap().score.id();
    playing(desk, score, 1)
}
