//! The screen in a real terminal: it is given back as it was, whatever happens, follows a change of
//! size, and writes nothing while nothing changes.
//!
//! For the eye: `OPENCHAIR_TEST_IN_A_PANE=1 cargo test --test live -- --exact
//! screen_terminal::play_by_the_clock_on_the_wall --nocapture` plays a song (`SONG=songs/FILE.toml`) in silence.

use std::fs;
use std::io::BufRead;
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::common::name::name_of;
use crate::common::stage;
use crate::common::tmux::Pane;
use crate::playing::turn::turn_beside_others;
use openchair::arrange::{Arrangement, Plan};
use openchair::live::{Action, Standing, Status};
use openchair::screen::{Input, Screen, View};
use openchair::time::Nanos;

/// Set where the screen is to be shown.
const IN_A_PANE: &str = "OPENCHAIR_TEST_IN_A_PANE";

fn song() -> Arrangement {
    let path = std::env::var("SONG").unwrap_or("songs/lantern-on-the-landing.toml".to_owned());
    stage::with_plan(&fs::read_to_string(&path).unwrap(), &Plan { count_in: 1, ..Plan::default() })
}

fn jump(status: &mut Status, song: &Arrangement, now: Nanos, bars: isize) {
    status.bar = status.bar.saturating_add_signed(bars).min(song.bars.len() - 1);
    status.bar_start = now;
}

/// What the other tests run in a pane; by itself, without a terminal, there is nothing to see.
#[test]
fn play_by_the_clock_on_the_wall() {
    if std::env::var_os(IN_A_PANE).is_none() {
        return;
    }
    let song = song();
    let began = Instant::now();
    let now = || Nanos(i64::try_from(began.elapsed().as_nanos()).unwrap());
    let mut status = Status {
        standing: Standing::CountingIn { bars: 1 },
        bar_start: song.tempo.nanos(song.meter.bar()),
        ..stage::playing(&song, 1)
    };
    let facts = stage::facts(&song);
    let mut screen = Screen::new().unwrap();
    loop {
        let time = now();
        let length = status.tempo.nanos(song.bars[status.bar].meter.bar());
        if status.standing != Standing::Paused && time >= status.bar_start {
            status.standing = Standing::Playing;
            if time.0 >= status.bar_start.0 + length.0 {
                status.bar_start.0 += length.0;
                status.bar = (status.bar + 1) % song.bars.len();
            }
        }
        screen.draw(&View::new(&status, &song, &facts, time)).unwrap();
        match screen.poll(Duration::from_millis(20)).unwrap() {
            Some(Input::Action(Action::Quit) | Input::Interrupt) => return,
            Some(Input::Action(Action::BarForward)) => jump(&mut status, &song, now(), 1),
            Some(Input::Action(Action::BarBack)) => jump(&mut status, &song, now(), -1),
            Some(Input::Action(Action::SectionForward)) => {
                let pass = song.bars[status.bar].pass;
                let bars = song.bars.iter().filter(|bar| bar.pass <= pass).count();
                let ahead = (bars - status.bar) as isize;
                jump(&mut status, &song, now(), ahead);
            }
            Some(Input::Action(Action::PauseOrGo)) => {
                status.standing = match status.standing {
                    Standing::Paused => Standing::Playing,
                    _ => Standing::Paused,
                };
                status.bar_start = now();
            }
            Some(Input::Action(Action::SitOut(role))) => {
                let out = status.muted.contains(role);
                status.muted = status.muted.iter().filter(|other| *other != role).collect();
                if !out {
                    status.muted = status.muted.with(role);
                }
            }
            Some(Input::Suspend) => {
                screen.leave();
                println!("SUSPENDED");
                std::io::stdin().lock().read_line(&mut String::new()).unwrap();
                screen.enter().unwrap();
            }
            Some(Input::Action(Action::Silence)) => panic!("to see the terminal given back"),
            Some(Input::Action(Action::ChangeClicks)) => status.lost = !status.lost,
            _ => {}
        }
    }
}

/// The same, in a pane; before it the shell says BEFORE, after it AFTER and how the terminal is set.
fn in_pane(test: &str, width: u16, height: u16) -> Option<Pane> {
    let this = std::env::current_exe().unwrap();
    let play = format!("--exact {} --nocapture", name_of(play_by_the_clock_on_the_wall));
    let shell = format!(
        "cd '{}'; stty -a; echo BEFORE; {IN_A_PANE}=1 '{}' {play}; stty -a; echo AFTER; sleep 60",
        env!("CARGO_MANIFEST_DIR"),
        this.display()
    );
    let pane = Pane::run(test, width, height, &shell)?;
    pane.shows("key G");
    Some(pane)
}

/// As it was before: the shell's own screen, a cursor, keys that are echoed.
fn given_back(pane: &Pane) -> String {
    let seen = pane.shows("AFTER");
    assert!(seen.contains("BEFORE"), "{seen}");
    assert_eq!((pane.fact("alternate_on"), pane.fact("cursor_flag")), ("0".into(), "1".into()));
    let settings: Vec<&str> =
        seen.split_whitespace().filter(|word| word.ends_with("echo")).collect();
    assert_eq!(settings, ["echo", "echo"], "{seen}");
    seen
}

#[test]
fn the_terminal_is_given_back_when_the_player_stops() {
    let _turn = turn_beside_others();
    let Some(pane) = in_pane(name_of(the_terminal_is_given_back_when_the_player_stops), 100, 40)
    else {
        return;
    };
    assert_eq!((pane.fact("alternate_on"), pane.fact("cursor_flag")), ("1".into(), "0".into()));
    assert!(!pane.capture().contains("BEFORE"));
    pane.keys(&["q"]);
    given_back(&pane);
    let Some(pane) = in_pane(name_of(the_terminal_is_given_back_when_the_player_stops), 100, 40)
    else {
        return;
    };
    pane.keys(&["C-c"]);
    given_back(&pane);
}

#[test]
fn the_terminal_is_given_back_after_a_panic_which_can_be_read() {
    let _turn = turn_beside_others();
    let Some(pane) =
        in_pane(name_of(the_terminal_is_given_back_after_a_panic_which_can_be_read), 100, 60)
    else {
        return;
    };
    pane.keys(&["0"]);
    let seen = given_back(&pane);
    assert!(seen.contains("to see the terminal given back"), "{seen}");
}

#[test]
fn the_terminal_is_lent_while_suspended() {
    let _turn = turn_beside_others();
    let Some(pane) = in_pane(name_of(the_terminal_is_lent_while_suspended), 80, 24) else { return };
    pane.keys(&["C-z"]);
    pane.shows("SUSPENDED");
    assert_eq!((pane.fact("alternate_on"), pane.fact("cursor_flag")), ("0".into(), "1".into()));
    pane.keys(&["Enter"]);
    pane.shows("verse: voice");
    assert_eq!((pane.fact("alternate_on"), pane.fact("cursor_flag")), ("1".into(), "0".into()));
}

#[test]
fn the_screen_follows_its_size() {
    let _turn = turn_beside_others();
    let Some(pane) = in_pane(name_of(the_screen_follows_its_size), 80, 24) else { return };
    // Held, so that what is shown stays.
    pane.keys(&["Space"]);
    pane.shows("PAUSED");
    for (width, height) in [(60, 16), (120, 24), (20, 5), (1, 1), (200, 30), (80, 24)] {
        pane.resize(width, height);
        pane.until("redrawn", |seen| match (width, height) {
            (1, 1) => seen.starts_with('G'),
            (20, 5) => seen.contains("PAUSED") && !seen.contains("Lantern"),
            _ => {
                let whole = ["[verse: voice]", "PAUSED", "bass", "key G", "?: keys"];
                whole.iter().all(|text| seen.contains(text))
                    && seen.lines().next().is_some_and(|line| line.ends_with("bar   1"))
                    && seen.lines().count() >= usize::from(height) - 1
            }
        });
    }
}

#[test]
fn the_keys_are_shown_and_put_away() {
    let _turn = turn_beside_others();
    let Some(pane) = in_pane(name_of(the_keys_are_shown_and_put_away), 60, 16) else { return };
    pane.keys(&["?"]);
    pane.shows("1 of 3");
    pane.keys(&["?"]);
    pane.shows("2 of 3");
    pane.keys(&["Escape"]);
    pane.shows("[verse: voice]");
    pane.keys(&["?", "?", "?"]);
    pane.shows("3 of 3");
    // Everything else does what it does, while they are shown.
    pane.keys(&["Space", "?"]);
    pane.shows("PAUSED");
}

#[test]
fn nothing_is_written_while_nothing_changes() {
    let _turn = turn_beside_others();
    let Some(pane) = in_pane(name_of(nothing_is_written_while_nothing_changes), 80, 24) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("written");
    pane.record(&file);
    let began = Instant::now();
    // A bar of it, with the bar that it is told to go to.
    pane.keys(&["Right"]);
    pane.until("a bar on", |seen| {
        seen.lines().next().is_some_and(|line| line.ends_with("bar   3"))
    });
    pane.keys(&["Space"]);
    pane.shows("PAUSED");
    let played = began.elapsed().as_secs_f64();
    // What is on its way to the file may take a while; then there is a second without any.
    let mut written = Vec::new();
    while let now = fs::read(&file).unwrap()
        && now.len() != written.len()
    {
        assert!(began.elapsed() < Duration::from_secs(60), "it never rests");
        written = now;
        sleep(Duration::from_secs(1));
    }
    // Each drawing is one update to the terminal, and there is one where something has changed: the
    // beat, at 108 a minute. Were it thirty a second, there would be many more.
    let written = String::from_utf8_lossy(&written);
    let begun = written.matches("\u{1b}[?2026h").count();
    assert_eq!(written.matches("\u{1b}[?2026l").count(), begun);
    assert!(begun >= 3 && (begun as f64) < played * 4.0 + 6.0, "{begun} drawings in {played} s");
    assert!(!written.contains("\u{1b}[2J"), "cleared: that flickers");
}
