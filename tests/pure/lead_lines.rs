//! The lead's line: an answer to the line before, and a written tune note for note where nobody has hands for it.

use openchair::arrange::{Plan, arrange};
use openchair::chart::Role;
use openchair::perform::perform;
use openchair::theory::Key;
use openchair::time::Meter;

use super::fiddle_and_lead::{all, exact, part};
use crate::common::shipped;

/// A line of four is answered by the next: over the same chords it stands on the same notes on its strong beats, and goes
/// from one to the next in another way.
#[test]
fn the_second_line_answers_the_first() {
    let text = "title = 'T'\nkey = 'G'\nmeter = '4/4'\ntempo = 110\nstyle = 'boom-chick'\n\
                form = ['a: fiddle']\nending = 'none'\n[section.a]\nchords = '''\n\
                | G | C | D | G |\n| G | C | D | G |\n| C | C | G | D |\n| G | C | D | G |\n'''\n";
    let song = shipped::song(text);
    for style in shipped::styles().into_iter().filter(|style| style.fits(Meter::FourFour)) {
        let style = exact(&style);
        let laid = arrange(&song, &Plan { band: Some(all()), ..Plan::default() }).unwrap();
        let performance = perform(&laid, &style, 5).unwrap();
        let lead = part(&performance, Role::Lead).unwrap();
        let line = |bars: std::ops::Range<u32>| -> Vec<(i64, u8)> {
            let own = lead.notes.iter().filter(|note| bars.contains(&note.bar));
            own.map(|note| ((note.start.get()) % (4 * 3840), note.pitch.get())).collect()
        };
        let (first, second) = (line(0..3), line(4..7));
        let strong: Vec<_> = first.iter().filter(|(at, _)| at % 1920 == 0).collect();
        let stands = strong.iter().filter(|note| second.contains(note)).count();
        assert!(stands * 3 >= strong.len() * 2, "{}: {first:?} {second:?}", style.name);
        let same = first.iter().filter(|note| second.contains(note)).count();
        assert!(same * 10 < first.len() * 9, "{}: {first:?} {second:?}", style.name);
        let third: Vec<u8> = line(8..11).into_iter().map(|note| note.1).collect();
        let mean =
            |notes: &[u8]| notes.iter().map(|n| f64::from(*n)).sum::<f64>() / notes.len() as f64;
        let first: Vec<u8> = first.into_iter().map(|note| note.1).collect();
        assert!(mean(&third) > mean(&first), "{}", style.name);
        // The pass comes home.
        assert_eq!(lead.notes.last().unwrap().pitch.pitch_class(), 7, "{}", style.name);
    }
}

const TUNE: &str = "title = 'Tune'\nkey = 'G'\nmeter = '4/4'\ntempo = 100\nstyle = 'boom-chick'\n\
    band = ['bass', 'lead']\nending = 'none'\nform = ['a: voice', 'a: banjo', 'a']\n[section.a]\n\
    chords = '| G | N.C. | D |'\nstops = '| . | . | x - |'\nmelody = '| G A / B | / c =f f | - d - - |'\n";

/// The written tune, note for note: `c` over N.C. and `d` in the stop too, the tie held, the accidental
/// kept to the bar line.
#[test]
fn a_written_tune_is_played_as_it_is_written() {
    let song = shipped::song(TUNE);
    let style = exact(&shipped::styles().into_iter().find(|s| s.name == song.style).unwrap());
    for (key, by) in [("G", 0), ("A", 2), ("C", 5), ("F", -2), ("Db", 6), ("D", -5)] {
        let plan = Plan { key: Some(Key::parse(key).unwrap()), ..Plan::default() };
        let laid = arrange(&song, &plan).unwrap();
        let performance = perform(&laid, &style, 1).unwrap();
        let lead = part(&performance, Role::Lead).unwrap();
        let notes: Vec<(i64, i32)> = lead
            .notes
            .iter()
            .map(|note| (note.start.get(), i32::from(note.pitch.get()) - by))
            .collect();
        let pass = |at: i64| {
            [(0, 67), (960, 69), (2880, 71), (4800, 72), (5760, 77), (6720, 77), (8640, 74)]
                .map(|(start, pitch)| (start + at, pitch))
        };
        let classes = |notes: &[(i64, i32)]| {
            notes.iter().map(|(at, pitch)| (*at, pitch.rem_euclid(12))).collect::<Vec<_>>()
        };
        // The banjo has each note within its eighth, and rolls around it.
        let broken = |at: i64| (11_520..23_040).contains(&at);
        let (on_banjo, notes): (Vec<_>, Vec<_>) =
            notes.into_iter().partition(|(at, _)| broken(*at));
        for (at, pitch) in pass(11_520) {
            let own = |(start, other): &&(i64, i32)| {
                (at..at + 480).contains(start) && (other - pitch) % 12 == 0
            };
            assert!(on_banjo.iter().any(|note| own(&note)), "{key} {at} {pitch}: {on_banjo:?}");
        }
        assert!(on_banjo.len() > 14, "{on_banjo:?}");
        let wanted: Vec<(i64, i32)> = [0, 23_040].into_iter().flat_map(pass).collect();
        assert_eq!(classes(&notes), classes(&wanted), "{key}");
        if by == 0 {
            assert_eq!(notes, wanted);
        }
        // The tie lasts over the bar line, up to the next note less its style's share.
        assert!(lead.notes[2].end.get() > 3840 + 480, "{:?}", lead.notes[2]);
        assert_eq!(lead.instrument.program, 53);
        let programs: Vec<u8> = lead.programs.iter().map(|(_, program)| *program).collect();
        assert_eq!(programs, [105, 110], "the banjo, then what the style says for nobody");
    }
}

#[test]
fn a_loop_that_begins_in_a_tie_strikes_its_note() {
    let song = shipped::song(TUNE);
    let style = exact(&shipped::styles().into_iter().find(|s| s.name == song.style).unwrap());
    let laid = arrange(&song, &Plan::default()).unwrap();
    let round = laid.excerpt(2..=2, 2).unwrap();
    let performance = perform(&round, &style, 1).unwrap();
    let lead = part(&performance, Role::Lead).unwrap();
    let notes: Vec<(i64, u8)> =
        lead.notes.iter().map(|note| (note.start.get(), note.pitch.get())).collect();
    let bar = [(0, 71), (960, 72), (1920, 77), (2880, 77)];
    let again = bar.map(|(at, pitch)| (at + 3840, pitch));
    assert_eq!(notes, [bar, again].concat());
}

/// Who slides or hammers into a note sets off shortly before it, on the same string. Where the chord changes with that
/// note, what was set off from belongs to the chord before: the string is led on all the same, and not struck anew.
#[test]
fn what_a_hand_sets_off_from_is_led_into_the_next_chord() {
    let text = "title = 'T'\nkey = 'G'\nmeter = '4/4'\ntempo = 96\nstyle = 'boom-chick'\n\
                form = ['a: LEAD']\nending = 'none'\n[section.a]\nchords = '''\n\
                | G | C | D | G |\n| Em | A | D | G |\n| C | D | Bm | Em |\n| A | D | F | G |\n'''\n";
    let (mut led, mut struck) = (0, Vec::new());
    // A mandolin's short notes there are its tremolo.
    for lead in ["resonator", "guitar", "fiddle"] {
        let song = shipped::song(&text.replace("LEAD", lead));
        for style in shipped::styles().into_iter().filter(|style| style.fits(Meter::FourFour)) {
            for seed in 1..=3 {
                let laid = arrange(&song, &Plan { band: Some(all()), ..Plan::default() }).unwrap();
                let performance = perform(&laid, &exact(&style), seed).unwrap();
                let notes = &part(&performance, Role::Lead).unwrap().notes;
                let changes = laid.spans.iter().map(|span| span.start);
                for change in changes {
                    // What is hardly longer than a tenth of a second and ends at the change was set off from.
                    let short = laid.tempo.ticks_in_millis(110.0);
                    let grace = notes.iter().rfind(|note| {
                        note.slurred.is_none()
                            && note.start < change
                            && (note.end - change).get().abs() < 60
                            && note.end - note.start <= short
                    });
                    let Some(grace) = grace else { continue };
                    let up = |to: u8| to > grace.pitch.get() && to <= grace.pitch.get() + 3;
                    let next = notes.iter().filter(|note| {
                        up(note.pitch.get()) && (note.start - change).get().abs() < 60
                    });
                    for next in next {
                        if next.slurred.is_some() {
                            led += 1;
                        } else {
                            struck.push((lead, style.name.clone(), seed, next.bar));
                        }
                    }
                }
            }
        }
    }
    println!("measured: {led} led on at a change, {} struck anew", struck.len());
    assert!(led > 50, "{led}");
    assert!(struck.is_empty(), "{struck:?}");
}
