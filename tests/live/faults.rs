//! The program itself while what it plays to dies and comes back: a receiver that is killed ten times
//! during one song, the server behind it, and the program's own process, which is stopped for a while.

use std::time::{Duration, Instant};

use crate::common::name::name_of;
use crate::playing::jack::{
    Listener, SERVER_PID, Server, is_inside, signal, with_server, with_server_beside_others,
};
use crate::playing::program::{Exported, Player, median, off_the_grid, openchair, song};
use crate::playing::receiver::{Line, Synth, ons, sounding, synth, wait_for_port};

const KILLS: usize = 10;

/// Twice as fast as written, so that a life of the receiver hears many notes soon.
const OPTIONS: [&str; 6] = ["--count-in", "1", "--seed", "5", "--speed", "200"];

fn play() -> Player {
    let song = song("lantern-on-the-landing");
    Player::start(openchair().args(["play", &song, "--port", "synth:in"]).args(OPTIONS))
}

/// Each channel is told to drop its notes and then what it sounds like, before the first note.
fn set_up_first(life: &[Line], file: &Exported) {
    let first_note = life.iter().position(|(_, bytes)| bytes[0] >> 4 == 9).unwrap();
    let before: Vec<[u8; 3]> = life[..first_note].iter().map(|line| line.1).collect();
    let at = |wanted: &[u8; 3]| {
        let found = before.iter().position(|it| it == wanted);
        found.unwrap_or_else(|| panic!("{wanted:?} comes before the first note: {before:?}"))
    };
    for channel in [0, 1, 2, 9] {
        at(&[0xB0 | channel, 120, 0]);
        at(&[0xB0 | channel, 123, 0]);
    }
    // Program, volume and pan of three roles.
    assert_eq!(file.set_up.len(), 9, "{:?}", file.set_up);
    for wanted in &file.set_up {
        assert!(at(wanted) > at(&[0xB0 | (wanted[0] & 15), 123, 0]), "{before:?}");
    }
}

#[test]
fn a_receiver_killed_ten_times_comes_back_to_the_beat() {
    let test = name_of(a_receiver_killed_ten_times_comes_back_to_the_beat);
    if is_inside("synth") {
        return synth();
    }
    if !is_inside(test) {
        return with_server(test, 256);
    }
    let file = Exported::of(&song("lantern-on-the-landing"), &OPTIONS);
    let grid = file.ons();
    let mut receiver = Synth::start(test);
    wait_for_port();
    let mut player = play();
    let mut life = receiver.hear(12);
    // The first click is where the file begins.
    let base = ons(&life)[0].0 - grid[0].0;
    let (mut off, mut missed, mut back) = (Vec::new(), Vec::new(), Vec::new());
    for kill in 1..=KILLS {
        off.extend(off_the_grid(&ons(&life), &grid, base));
        let begun = Instant::now();
        receiver.kill();
        player.says("synth:in (jack) has gone");
        missed.push(begun.elapsed());
        receiver = Synth::start(test);
        let begun = Instant::now();
        player.says("synth:in (jack) is back");
        back.push(begun.elapsed());
        life = receiver.hear(12);
        set_up_first(&life, &file);
        assert_eq!((player.said("has gone"), player.said("(jack) is back")), (kill, kill));
    }
    player.stops_at("INT");
    life.extend(receiver.rest());
    off.extend(off_the_grid(&ons(&life), &grid, base));
    assert_eq!(sounding(&life), [], "nothing is left sounding");
    let off: Vec<i64> = off.into_iter().map(i64::abs).collect();
    missed.sort_unstable();
    back.sort_unstable();
    println!(
        "measured: {KILLS} kills: told after {:?} (median), back {:?} after its start (median); {} \
         notes off the file's grid by {} µs (median), {} µs (most); lost time: {}",
        missed[KILLS / 2],
        back[KILLS / 2],
        off.len(),
        median(&off),
        off.iter().max().unwrap(),
        player.said("lost time")
    );
    // Half of them: after a dropout the music draws level with the clock only by and by.
    assert!(median(&off) <= 2_000, "{off:?}");
    receiver.kill();
}

#[test]
fn a_server_that_is_started_again_is_taken_up_again() {
    let test = name_of(a_server_that_is_started_again_is_taken_up_again);
    if is_inside("synth") {
        return synth();
    }
    if !is_inside(test) {
        return with_server(test, 256);
    }
    let file = Exported::of(&song("lantern-on-the-landing"), &OPTIONS);
    let grid = file.ons();
    let receiver = Synth::start(test);
    wait_for_port();
    let mut player = play();
    let life = receiver.hear(12);
    let base = ons(&life)[0].0 - grid[0].0;
    off_the_grid(&ons(&life), &grid, base);
    // Asked to end: of one that is killed another of its name believes that it still runs, as long as
    // nobody has waited for its end.
    signal(std::env::var(SERVER_PID).unwrap().parse().unwrap(), "TERM");
    player.says("synth:in (jack) has gone");
    receiver.kill();
    let _server = Server::start_again(test, 256).unwrap();
    let receiver = Synth::start(test);
    player.says("synth:in (jack) is back");
    let mut life = receiver.hear(40);
    set_up_first(&life, &file);
    player.stops_at("TERM");
    life.extend(receiver.rest());
    // The clock went on: the band is where it would have been.
    let off = off_the_grid(&ons(&life), &grid, base);
    println!("measured: after the server's return off the grid by {} µs (median)", median(&off));
    assert!(median(&off).abs() <= 5_000, "{off:?}");
    assert_eq!(sounding(&life), []);
    receiver.kill();
}

#[test]
fn a_program_that_was_stopped_goes_on_where_it_was_without_a_burst() {
    let test = name_of(a_program_that_was_stopped_goes_on_where_it_was_without_a_burst);
    if !is_inside(test) {
        return with_server(test, 256);
    }
    let song = song("lantern-on-the-landing");
    let grid = Exported::of(&song, &OPTIONS).ons();
    let mut listener = Listener::new("listener");
    let mut player =
        Player::start(openchair().args(["play", &song, "--port", "listener"]).args(OPTIONS));
    assert!(listener.until(Duration::from_secs(20), |it| it.sounding().len() >= 5));
    player.signal("STOP");
    let stops = Instant::now();
    // What the server has in hand still comes; it may not go round as long as one of its clients stands.
    std::thread::sleep(Duration::from_millis(300));
    let before = listener.listen().len();
    // Longer than the two seconds after which a machine counts as having slept.
    std::thread::sleep(Duration::from_millis(2_700));
    assert_eq!(listener.listen().len(), before, "it stood still");
    let stood_by_the_clock = stops.elapsed().as_micros() as i64;
    player.signal("CONT");
    let more = listener.until(Duration::from_secs(20), |it| it.listen().len() > before + 150);
    player.stops_at("INT");
    listener.catch_up();
    assert!(more, "it goes on: {:?}", player.told);
    assert_eq!(listener.sounding(), []);
    let micros = |frame: u32| i64::from(frame) * 1_000_000 / 48_000;
    let all = listener.listen().iter().map(|it| (micros(it.frame), it.bytes));
    let (then, after): (Vec<Line>, Vec<Line>) = {
        let all: Vec<Line> = all.collect();
        (ons(&all[..before]), ons(&all[before..]))
    };
    // As many at once as a stroke has strings, and a bass.
    let most = after.iter().map(|(at, _)| {
        after.iter().filter(|(other, _)| (*at..at + 10_000).contains(other)).count()
    });
    let most = most.max().unwrap();
    // It goes on as the file does, late by as long as it stood; nothing was skipped.
    let base = then[0].0 - grid[0].0;
    let last = then[then.len() - 1].0 - base;
    let next: Vec<Line> = grid.iter().copied().filter(|it| it.0 > last - 60_000).collect();
    let found = after.iter().find_map(|(at, bytes)| {
        let it = next.iter().find(|it| it.1 == *bytes)?;
        Some(at - base - it.0)
    });
    let stood = found.unwrap();
    println!(
        "measured: stood still {} ms in the music; {most} notes within 10 ms at most; {:?}",
        stood / 1_000,
        player.told
    );
    let more = stood - stood_by_the_clock;
    assert!((-1_000_000..1_500_000).contains(&more), "{stood}, {stood_by_the_clock}");
    assert!(most <= 12, "{after:?}");
    let settled: Vec<Line> = after.iter().copied().skip(12).collect();
    let off = off_the_grid(&settled, &grid, base + stood);
    assert!(median(&off).abs() < 20_000, "{off:?}");
}

#[test]
fn a_receiver_with_another_number_in_its_name_is_taken_for_the_one_meant() {
    let test = name_of(a_receiver_with_another_number_in_its_name_is_taken_for_the_one_meant);
    if is_inside("synth") {
        return synth();
    }
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let song = song("lantern-on-the-landing");
    let file = Exported::of(&song, &OPTIONS);
    // There all along, and fits as well: but it was not meant.
    let mut other = Listener::new("old synth");
    let receiver = Synth::start(test);
    wait_for_port();
    let mut player = play();
    receiver.hear(6);
    receiver.kill();
    player.says("synth:in (jack) has gone");
    let receiver = Synth::named(test, "4711 Synth");
    player.says("4711 Synth:in (jack) is back");
    let mut life = receiver.hear(12);
    set_up_first(&life, &file);
    player.stops_at("INT");
    life.extend(receiver.rest());
    assert_eq!(sounding(&life), []);
    assert!(other.listen().is_empty());
}
