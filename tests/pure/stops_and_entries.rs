//! What a player does at a stop, after one, and where a chord changes against the pattern. All of it
//! is common practice, no source.

use crate::common::shipped;
use openchair::arrange::{Plan, arrange};
use openchair::chart::Role;
use openchair::perform::{Note, perform};

const BEAT: i64 = 960;
const BAR: i64 = 4 * BEAT;

/// What a role plays of a chart in G in 4/4, by patterns without any feel.
fn played(role: Role, bars: &[(&str, &str)], chords: &str, stops: &str) -> Vec<Note> {
    let song = shipped::song(&format!(
        "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\nending = 'none'\n\
         form = ['verse']\n[section.verse]\nchords = '{chords}'\nstops = '{stops}'\n"
    ));
    let mut toml = format!("about = 'any'\nmeters = ['4/4']\n[{role}]\nlooseness = 0\n");
    for (when, bar) in bars {
        toml += &format!("[[{role}.bar]]\nbar = '{bar}'\n");
        if !when.is_empty() {
            toml += &format!("when = '{when}'\n");
        }
    }
    let plan = Plan { band: Some([role].into_iter().collect()), ..Plan::default() };
    let arrangement = arrange(&song, &plan).unwrap();
    let performance = perform(&arrangement, &shipped::style("any", &toml), 1).unwrap();
    performance.parts.into_iter().flat_map(|part| part.notes).collect()
}

/// The bass's notes as (beat of the song from 0, pitch).
fn bass_line(bars: &[(&str, &str)], chords: &str, stops: &str) -> Vec<(i64, u8)> {
    let notes = played(Role::Bass, bars, chords, stops);
    notes.iter().map(|note| (note.start.get() / BEAT, note.pitch.get())).collect()
}

#[test]
fn a_hit_chokes_the_bass_note_that_rang_before_it() {
    // In C the fifth is on the low E string, which the chord itself does not use.
    let notes = played(Role::Guitar, &[("", "R . D . 5 . D .")], "| C | C |", "| . | x. |");
    let choked = BAR + BEAT / 2;
    let ringing: Vec<&Note> =
        notes.iter().filter(|n| n.start.get() < choked && n.end.get() > choked).collect();
    assert!(notes.iter().any(|note| note.pitch.get() == 43), "the fifth is there");
    assert!(ringing.is_empty(), "{ringing:?}");
}

#[test]
fn a_walk_that_a_stop_cuts_into_still_arrives_by_step() {
    let bars = [("change next", "R > > >"), ("", "R . 5 .")];
    for stops in ["| . | --.. | . |", "| . | .-.. | . |", "| . | ..-. | . |", "| . | ---. | . |"] {
        let line = bass_line(&bars, "| G | C | D |", stops);
        let (_, last) = *line.iter().rfind(|(beat, _)| *beat < 8).unwrap();
        let (_, first) = *line.iter().find(|(beat, _)| *beat == 8).unwrap();
        assert_eq!(first, 38, "D");
        assert!((1..=2).contains(&last.abs_diff(first)), "{stops}: {line:?}");
    }
}

#[test]
fn after_a_stop_the_bass_comes_in_on_the_root() {
    // D begins where the band is silent: what is heard of it first is its root.
    let bars = [("", "R . 5 ."), ("", "5 . R .")];
    assert_eq!(bass_line(&bars, "| G D | D |", "| .- | . |"), [(0, 43), (4, 38), (6, 38)]);
}

#[test]
fn a_chord_that_begins_under_a_stroke_brings_its_bass_note() {
    let notes = played(Role::Guitar, &[("", "R . D . 5 . D .")], "| G / / C |", "| . |");
    let struck = notes.iter().filter(|n| (3 * BEAT..4 * BEAT).contains(&n.start.get()));
    assert_eq!(struck.map(|note| note.pitch.get()).min(), Some(48), "C, not the E above it");
}

#[test]
fn a_bass_note_under_a_stroke_is_the_lowest_and_the_pick_comes_to_it_first() {
    // In G the fifth is the open D string, and the chord's A string lies below it.
    let notes = played(Role::Guitar, &[("", "R . 5+D .")], "| G |", "| . |");
    let struck: Vec<&Note> = notes.iter().filter(|n| n.start.get() >= 2 * BEAT).collect();
    assert!(struck.len() >= 3, "{struck:?}");
    assert_eq!(struck[0].pitch.get(), 50, "D");
    let follows = |w: &[&Note]| w[0].start < w[1].start && w[0].pitch < w[1].pitch;
    assert!(struck.windows(2).all(follows), "{struck:?}");
}

#[test]
fn a_held_chord_rings_for_its_mark_and_no_longer() {
    for (role, bar, least) in
        [(Role::Bass, "R . 5 .", 1), (Role::Guitar, "R D 5 D", 5), (Role::Chop, "- x - x", 3)]
    {
        let notes = played(role, &[("", bar)], "| G | G | C |", "| . | oo.. | o |");
        let at = |from: i64| -> Vec<&Note> {
            notes.iter().filter(|note| note.start.get() / BEAT == from).collect()
        };
        let held = at(4);
        assert!(held.len() >= least, "{role} strikes: {held:?}");
        let longest = held.iter().map(|note| (note.end - note.start).get()).max().unwrap();
        assert!((longest - 2 * BEAT).abs() < BEAT / 4, "{role} holds for two beats: {longest}");
        assert!(at(5).is_empty(), "{role}: marks side by side are one");
        assert!(notes.iter().any(|note| (6..8).contains(&(note.start.get() / BEAT))), "goes on");
        let last = at(8);
        let longest = last.iter().map(|note| (note.end - note.start).get()).max().unwrap();
        assert!((longest - BAR).abs() < BEAT / 4, "{role}: a whole bar: {longest}");
    }
}

#[test]
fn a_new_chord_under_a_held_one_is_struck_anew() {
    let notes = played(Role::Bass, &[("", "R R R R")], "| G / D / | G |", "| o | . |");
    let line: Vec<(i64, u8)> =
        notes.iter().take(2).map(|n| (n.start.get() / BEAT, n.pitch.get())).collect();
    assert_eq!(line, [(0, 43), (2, 38)]);
    assert!(notes[0].end.get() <= 2 * BEAT + 2 && notes[1].end.get() > 3 * BEAT);
}
