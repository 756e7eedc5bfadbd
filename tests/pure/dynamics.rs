//! How loud the band is behind whom. Common practice, no source: room for the singer, a lift for the
//! breaks, a strong end.

use crate::common::shipped;
use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::{Dynamic, Song};
use openchair::perform::{Performance, perform};
use openchair::style::{Dynamics, Style};

/// One bass note and one strum to every quarter, and no touch of a player's own. Each time round is alike.
fn even(dynamics: &str) -> Style {
    let alike = "first_time = 1\nlast_time = 1\n";
    let head = if dynamics.is_empty() { "[dynamics]\n" } else { "" };
    let mut toml = format!("about = 'any'\nmeters = ['4/4']\n{dynamics}{head}{alike}");
    for (role, bar) in [("bass", "R R R R"), ("guitar", "R+D R+D R+D R+D")] {
        toml += &format!(
            "[{role}]\nlooseness = 0\nloudness = {{ vary = 0 }}\n[[{role}.bar]]\nbar = '{bar}'\n"
        );
    }
    shipped::style("even", &toml)
}

fn song(dynamics: &str) -> Song {
    shipped::song(&format!(
        "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
         form = ['a: voice', 'b: fiddle', 'a: voice']\n\
         [section.a]\n{dynamics}\nchords = '| G | C | D | G |'\nvoice = '| = | - | = | = |'\n\
         [section.b]\nchords = '| G | C |'\n"
    ))
}

fn play(song: &Song, style: &Style) -> (Arrangement, Performance) {
    let arrangement = arrange(song, &Plan::default()).unwrap();
    let performance = perform(&arrangement, style, 1).unwrap();
    (arrangement, performance)
}

/// The bass's velocities, four to a bar.
fn touches(song: &Song, style: &Style) -> Vec<Vec<u8>> {
    let (_, performance) = play(song, style);
    let bass = &performance.parts[0].notes;
    bass.chunks(4).map(|bar| bar.iter().map(|note| note.velocity).collect()).collect()
}

#[test]
fn a_style_is_alive_though_it_says_nothing_of_dynamics() {
    let bars = touches(&song(""), &even(""));
    let sung = bars[0][0];
    assert!(bars[1][3] > sung, "a pause comes up: {bars:?}");
    assert!(bars[2].iter().all(|&touch| touch == sung), "and down for the singer");
    assert!(bars[4][0] > bars[1][3], "a break lifts");
    assert!(bars[3].is_sorted() && bars[3][3] > sung && bars[3][3] < bars[4][0], "swelling");
    assert_eq!(bars[6][0], sung, "and drops for the next verse");
    assert!(bars.last().unwrap()[0] > bars[4][0] / 2 + sung / 2, "a strong end");
}

#[test]
fn a_style_says_how_much() {
    let flat = "[dynamics]\nsinger_sings = 1\nsinger_pauses = 1\nbreak = 1\nending = 1\n";
    let bars = touches(&song(""), &even(flat));
    assert!(bars.iter().flatten().all(|&touch| touch == bars[0][0] || touch > 100), "{bars:?}");
    let steep = "[dynamics]\nsinger_sings = 0.6\nsinger_pauses = 0.8\nbreak = 1.2\nending = 1\n";
    let steep = touches(&song(""), &even(steep));
    let normal = f64::from(bars[0][0]);
    for (bar, share) in [(0, 0.6), (4, 1.2)] {
        assert!((f64::from(steep[bar][0]) - normal * share).abs() <= 0.5, "{steep:?}");
    }
}

#[test]
fn a_section_is_as_loud_as_its_mark_says() {
    let plain = touches(&song(""), &even(""));
    for mark in Dynamic::ALL {
        let marked = touches(&song(&format!("dynamics = '{}'", mark.as_str())), &even(""));
        for (bar, (before, after)) in plain.iter().zip(&marked).enumerate() {
            // The last bar of `a` is on its way to `b`, which has no mark.
            let share = if bar == 4 || bar == 5 { 1.0 } else { mark.share() };
            let wanted = (f64::from(before[0]) * share).min(127.0);
            assert!((f64::from(after[0]) - wanted).abs() <= 1.0, "{mark:?} {bar}: {marked:?}");
        }
    }
}

#[test]
fn every_shipped_style_makes_room_for_a_singer() {
    let mut compared = [0, 0];
    for (path, song, style) in shipped::pairs() {
        let Dynamics { singer_sings, singer_pauses, on_break, .. } = style.dynamics;
        assert!(singer_sings < singer_pauses && singer_pauses < on_break, "{}", style.name);
        // Against the same notes by a band that minds nobody.
        let flat = Dynamics {
            singer_sings: 1.0,
            singer_pauses: 1.0,
            on_break: 1.0,
            ending: 1.0,
            ..style.dynamics
        };
        let (arrangement, played) = play(&song, &style);
        let (_, minding_nobody) = play(&song, &Style { dynamics: flat, ..style.clone() });
        for (part, plain) in played.parts.iter().zip(&minding_nobody.parts) {
            assert_eq!(part.notes.len(), plain.notes.len());
            for (note, plain) in part.notes.iter().zip(&plain.notes) {
                assert_eq!(
                    (note.start, note.end, note.pitch),
                    (plain.start, plain.end, plain.pitch)
                );
                let facts = arrangement.bars[note.bar as usize].facts;
                let place = (path.display(), &style.name, note);
                // The last bar of a pass may be on its way to a louder one.
                if facts.singer_sings && !facts.last_bar {
                    // A line that builds grows from as low.
                    let softer = note.velocity < plain.velocity
                        || facts.build && note.velocity == plain.velocity;
                    assert!(softer, "{place:?} {plain:?}");
                    compared[0] += 1;
                } else if facts.instrument_leads && !facts.last_bar {
                    assert!(note.velocity >= plain.velocity, "{place:?} {plain:?}");
                    compared[1] += 1;
                }
            }
        }
    }
    assert!(compared.iter().all(|&notes| notes > 10_000), "{compared:?}");
}
