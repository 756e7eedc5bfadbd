//! The program itself in a terminal, playing through a real JACK server: keys in, the screen captured,
//! and its facts compared. Skipped where tmux or JACK is missing.

use std::process::Command;
use std::time::Duration;

use crate::common::name::name_of;
use crate::common::tmux::Pane;
use crate::playing::jack::{Listener, is_inside, signal, with_server_beside_others};

/// Starts `openchair play` in a pane with some options, and waits until it plays.
fn play(test: &str, width: u16, height: u16, options: &str) -> Option<Pane> {
    let shell = format!(
        "cd '{}'; echo BEFORE; '{}' play songs/lantern-on-the-landing.toml --port LISTENER {options}; \
         echo AFTER $?; stty -a; sleep 60",
        env!("CARGO_MANIFEST_DIR"),
        env!("CARGO_BIN_EXE_openchair")
    );
    let pane = Pane::run(test, width, height, &shell)?;
    pane.shows("key G");
    Some(pane)
}

/// The bar's number in the header.
fn bar(seen: &str) -> Option<usize> {
    let (_, after) = seen.lines().next()?.split_once("  bar ")?;
    after.trim().parse().ok()
}

fn waits_for_bar(pane: &Pane, number: usize) {
    pane.until(&format!("bar {number}"), |seen| bar(seen) == Some(number));
}

#[test]
fn keys_do_what_the_screen_says() {
    let test = name_of(keys_do_what_the_screen_says);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let mut listener = Listener::new("listener");
    let Some(pane) = play(test, 80, 24, "--count-in 1") else { return };
    pane.shows("COUNT-IN");
    pane.until("playing", |seen| !seen.contains("COUNT-IN") && seen.contains("voice sings"));
    assert!(listener.until(Duration::from_secs(5), |heard| !heard.listen().is_empty()));

    // Space: silent, and it says from where it goes on.
    pane.keys(&["Space"]);
    pane.shows("PAUSED  Space goes on from bar");
    assert!(listener.until(Duration::from_secs(2), |heard| heard.sounding().is_empty()));
    // Right: where it goes on from moves with it.
    let here = bar(&pane.capture()).unwrap();
    pane.keys(&["Right"]);
    waits_for_bar(&pane, here + 1);
    pane.keys(&["Left"]);
    waits_for_bar(&pane, here);
    pane.keys(&["Space"]);
    pane.until("playing", |seen| !seen.contains("PAUSED"));

    // l: the section is a loop, and no longer.
    pane.keys(&["l"]);
    pane.shows("loop 1-16");
    pane.keys(&["l"]);
    pane.until("no loop", |seen| !seen.contains("loop 1-16"));

    // b: the bass sits out, and comes back.
    pane.keys(&["b"]);
    pane.shows("OPEN: bass");
    pane.keys(&["b"]);
    pane.until("the bass is back", |seen| !seen.contains("OPEN: bass"));

    // Slower, a key up.
    pane.keys(&["2"]);
    pane.shows("tempo  54  50 %");
    pane.keys(&["4", "k"]);
    pane.shows("tempo 108 100 %");
    pane.until("another key", |seen| seen.contains("key Ab") || seen.contains("key G#"));

    // A section on; ?: the keys, and away.
    pane.keys(&["NPage"]);
    pane.shows("[chorus: voice]");
    pane.keys(&["?"]);
    pane.shows("pause, and go on");
    pane.keys(&["Escape"]);
    pane.shows("[chorus: voice]");

    // q: all as it was, and nothing sounds.
    pane.keys(&["q"]);
    let seen = pane.shows("AFTER 0");
    assert!(seen.contains("BEFORE"), "{seen}");
    assert_eq!((pane.fact("alternate_on"), pane.fact("cursor_flag")), ("0".into(), "1".into()));
    assert!(listener.until(Duration::from_secs(2), |heard| heard.sounding().is_empty()));
}

#[test]
fn a_break_opens_the_guitars_chair_at_every_size() {
    let test = name_of(a_break_opens_the_guitars_chair_at_every_size);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let _listener = Listener::new("listener");
    let Some(pane) = play(test, 80, 24, "--count-in 0") else { return };
    pane.keys(&["Space"]);
    pane.shows("PAUSED");
    pane.keys(&["NPage", "NPage", "Space"]);
    pane.shows("guitar leads");
    for (width, height) in [(60, 16), (80, 24), (100, 30), (40, 10)] {
        pane.resize(width, height);
        let seen = pane.until("redrawn", |seen| {
            seen.contains("OPEN: guitar") && (width < 60 || seen.contains("[verse: guitar]"))
        });
        assert!(!seen.contains("OPEN: bass"), "{seen}");
    }
}

#[test]
fn into_a_pipe_it_prints_a_line_a_bar() {
    let test = name_of(into_a_pipe_it_prints_a_line_a_bar);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let _listener = Listener::new("listener");
    let folder = tempfile::tempdir().unwrap();
    let id = folder.path().join("id");
    let shell = format!(
        "cd '{}'; sh -c 'echo $$ > {}; exec {} play songs/lantern-on-the-landing.toml --port LISTENER \
         --count-in 0 --speed 200' | cat; echo AFTER; sleep 60",
        env!("CARGO_MANIFEST_DIR"),
        id.display(),
        env!("CARGO_BIN_EXE_openchair")
    );
    let Some(pane) = Pane::run(test, 80, 24, &shell) else { return };
    pane.shows("    2  ");
    signal(std::fs::read_to_string(id).unwrap().trim().parse().unwrap(), "INT");
    let seen = pane.shows("AFTER");
    assert_eq!(pane.fact("alternate_on"), "0");
    assert!(seen.contains("    1  G"), "{seen}");
}

/// A window that is closed under the band.
#[test]
fn a_terminal_that_goes_takes_the_band_with_it() {
    let test = name_of(a_terminal_that_goes_takes_the_band_with_it);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let mut listener = Listener::new("listener");
    for options in ["", "--plain"] {
        let folder = tempfile::tempdir().unwrap();
        let id = folder.path().join("id");
        let shell = format!(
            "cd '{}'; echo $$ > '{}'; exec '{}' play songs/lantern-on-the-landing.toml \
             --port LISTENER --count-in 0 {options}",
            env!("CARGO_MANIFEST_DIR"),
            id.display(),
            env!("CARGO_BIN_EXE_openchair")
        );
        let Some(pane) = Pane::run(test, 80, 24, &shell) else { return };
        assert!(listener.until(Duration::from_secs(20), |heard| !heard.sounding().is_empty()));
        drop(pane);
        let id = std::fs::read_to_string(id).unwrap();
        let runs = || {
            let asked = Command::new("ps").args(["-o", "stat=", "-p", id.trim()]).output();
            let state = String::from_utf8(asked.unwrap().stdout).unwrap();
            !state.trim().is_empty() && !state.trim().starts_with('Z')
        };
        let ended = (0..400).any(|_| {
            std::thread::sleep(Duration::from_millis(50));
            !runs()
        });
        assert!(ended, "{options}: it runs on without a terminal");
        assert!(listener.until(Duration::from_secs(2), |heard| heard.sounding().is_empty()));
    }
}

/// What can't move its cursor, or shows ASCII alone, gets a line a bar, in ASCII.
#[test]
fn a_dumb_terminal_gets_lines() {
    let test = name_of(a_dumb_terminal_gets_lines);
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let mut listener = Listener::new("listener");
    for says in ["TERM=dumb", "TERM= LC_ALL=C", "LC_ALL=C"] {
        let shell = format!(
            "cd '{}'; export {says}; '{}' play songs/lantern-on-the-landing.toml --port LISTENER \
             --count-in 0; echo AFTER $?; sleep 60",
            env!("CARGO_MANIFEST_DIR"),
            env!("CARGO_BIN_EXE_openchair")
        );
        let Some(pane) = Pane::run(test, 80, 24, &shell) else { return };
        let seen = pane.shows("    2  ");
        assert_eq!(pane.fact("alternate_on"), "0", "{says}");
        assert!(seen.is_ascii() && seen.contains("    1  G"), "{says}: {seen}");
        // The keys are there all the same. Ctrl-C is the end, and not by its own key.
        pane.keys(&["C-c"]);
        pane.shows("AFTER 130");
        assert!(listener.until(Duration::from_secs(2), |heard| heard.sounding().is_empty()));
    }
}
