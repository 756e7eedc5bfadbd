//! The banjo's part written out: as text, as MusicXML and as diagrams of the neck it says what is picked, no
//! more and no less, whatever the song, the level and the key.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // A test fails by panicking.

#[path = "common/midi_file.rs"]
mod midi_file;
#[path = "common/shipped.rs"]
mod shipped;
#[path = "common/xml_tree.rs"]
mod xml_tree;

use std::sync::OnceLock;

use openchair::arrange::{Plan, arrange};
use openchair::backup::{Level, backup};
use openchair::chart::{Role, RoleSet, Song};
use openchair::coverage::{Job, coverage};
use openchair::perform::{Ends, Instrument, Pick, perform};
use openchair::style::{Loud, Style};
use openchair::tablature::{Tablature, json, musicxml, neck_svg, neck_text, tablature, text};
use openchair::theory::Key;
use openchair::theory::fretboard::banjo::{Finger, sounding};
use openchair::time::Ticks;

use xml_tree::Node;

const BANJO: Instrument = Instrument { program: 105, volume: 80, pan: 64 };

/// The part of a song, and what it was written from.
fn sheet(song: &Song, style: &Style, plan: &Plan, level: Level) -> (Tablature, Vec<Pick>) {
    let played = arrange(song, plan).unwrap();
    let performance = perform(&played, style, 1).unwrap();
    let open = coverage(&played, &performance, RoleSet::EMPTY.with(Role::Banjo));
    let part = backup(&played, style, &open, level, 1);
    let tab = tablature(&played, performance.swing, &open, &part, level);
    (tab, part.picks)
}

/// Every shipped song in its own style at every level, as written and in a key with a capo.
fn all() -> &'static [(String, Tablature, Vec<Pick>)] {
    static ALL: OnceLock<Vec<(String, Tablature, Vec<Pick>)>> = OnceLock::new();
    ALL.get_or_init(written)
}

fn written() -> Vec<(String, Tablature, Vec<Pick>)> {
    let styles = shipped::styles();
    let mut all = Vec::new();
    for (path, song) in shipped::songs() {
        let style = styles.iter().find(|style| style.name == song.style).unwrap();
        for (at, level) in Level::ALL.into_iter().enumerate() {
            let key = Key { mode: song.key.mode, ..Key::parse(["G", "Bb", "F", "D"][at]).unwrap() };
            for key in [None, Some(key)] {
                let plan = Plan { key, tag: style.tag, ..Plan::default() };
                let (tab, picks) = sheet(&song, style, &plan, level);
                all.push((format!("{} {level} {key:?}", path.display()), tab, picks));
            }
        }
    }
    all
}

/// String and fret of what is picked, bar for bar, the first string of a stroke first.
fn picked(tab: &Tablature) -> Vec<Vec<(u8, u8)>> {
    let strokes = |bar: &openchair::tablature::TabBar| {
        let picks = bar.strokes.iter().flat_map(|stroke| &stroke.picks);
        picks.map(|pick| (pick.string, pick.fret)).collect()
    };
    tab.bars.iter().map(strokes).collect()
}

#[test]
fn nothing_that_is_picked_is_lost() {
    for (name, tab, picks) in all() {
        let mut written: Vec<Pick> = tab
            .bars
            .iter()
            .flat_map(|bar| &bar.strokes)
            .flat_map(|stroke| stroke.picks.iter().copied())
            .collect();
        let mut wanted = picks.clone();
        for picks in [&mut written, &mut wanted] {
            picks.sort_by_key(|pick| (pick.at, pick.string));
        }
        assert!(!wanted.is_empty(), "{name}");
        assert_eq!(written, wanted, "{name}");
        for bar in &tab.bars {
            let mut end = Ticks::ZERO;
            for stroke in &bar.strokes {
                assert!(stroke.at >= end && stroke.length > Ticks::ZERO, "{name} {bar:?}");
                end = stroke.at + stroke.length;
            }
            assert!(end <= bar.meter.bar(), "{name} {bar:?}");
        }
    }
}

/// The frets of a text, bar for bar in the order of its columns: what a player reads.
fn read(text: &str) -> Vec<Vec<(u8, u8)>> {
    let lines: Vec<&str> = text.lines().collect();
    let mut bars = Vec::new();
    let is_string = |line: &&str| line.get(1..2) == Some("|");
    for first in 0..lines.len() {
        let Some(system) = lines.get(first..first + 5) else { break };
        if !system.iter().all(is_string)
            || first.checked_sub(1).is_some_and(|before| is_string(&lines[before]))
        {
            continue;
        }
        let names: String = system.iter().map(|line| &line[..1]).collect();
        assert_eq!(names, "DBGDg");
        let rows: Vec<Vec<char>> = system.iter().map(|line| line.chars().collect()).collect();
        assert!(rows.iter().all(|row| row.len() == rows[0].len()), "{text}");
        let mut bar = Vec::new();
        for column in 2..rows[0].len() {
            if rows[0][column] == '|' {
                assert!(
                    rows.iter().all(|row| row[column] == '|'),
                    "bar lines stand over each other"
                );
                bars.push(std::mem::take(&mut bar));
                continue;
            }
            for (row, string) in rows.iter().zip(1..) {
                let digit = |at: usize| row.get(at).and_then(|c| c.to_digit(10));
                // A second digit belongs to the first.
                if let (Some(fret), None) = (digit(column), digit(column - 1)) {
                    let fret = digit(column + 1).map_or(fret, |second| 10 * fret + second);
                    bar.push((string, u8::try_from(fret).unwrap()));
                }
            }
        }
        assert!(bar.is_empty(), "what is picked stands before a bar line");
    }
    bars
}

#[test]
fn the_text_reads_back_as_what_is_picked() {
    for (name, tab, _) in all() {
        for width in [40, 60, 80, 120] {
            let text = text(tab, width);
            assert_eq!(read(&text), picked(tab), "{name}");
            let widest = text.lines().map(|line| line.chars().count()).max().unwrap();
            let alone = |line: &str| line.matches('|').count() <= 2;
            for line in text.lines().filter(|line| line.chars().count() > width) {
                // One bar of many notes may need more than the narrowest page.
                assert!(
                    width < 60 && (alone(line) || !line.contains('|')),
                    "{name} {width}: {line}"
                );
            }
            assert!(widest > 20 && text.ends_with('\n'));
        }
    }
}

#[test]
fn every_stroke_stands_over_its_fingers() {
    for (name, tab, _) in all().iter().step_by(5) {
        let text = text(tab, 80);
        let letters: usize = text
            .lines()
            .filter(|line| line.starts_with("   ") && line.chars().all(|c| " TIM".contains(c)))
            .map(|line| line.matches(['T', 'I', 'M']).count())
            .sum();
        assert_eq!(letters, picked(tab).iter().map(Vec::len).sum::<usize>(), "{name}");
    }
}

/// A two-bar song and picks by hand: bar, eighth, string, fret, finger.
fn by_hand(head: &str, rows: &[(u32, i64, u8, u8, Finger)], ends: Ends) -> Tablature {
    let song = shipped::song(&format!(
        "title = \"Heron <&> Reed\"\n{head}\nform = [\"verse\"]\nending = \"none\"\n[section.verse]\n\
         chords = \"\"\"\n| 1 | 4 57 |\n\"\"\"\n"
    ));
    let styles = shipped::styles();
    let style = styles.iter().find(|style| style.name == song.style).unwrap();
    let played = arrange(&song, &Plan::default()).unwrap();
    let performance = perform(&played, style, 1).unwrap();
    let open = coverage(&played, &performance, RoleSet::EMPTY);
    let capo = openchair::theory::fretboard::banjo::choose_banjo_capo(song.key);
    let picks = rows.iter().map(|&(bar, eighth, string, fret, finger)| Pick {
        at: played.bars[bar as usize].start + Ticks::EIGHTH * eighth,
        bar,
        string,
        fret,
        finger,
        pitch: sounding(string, fret, capo),
        loud: Loud::Normal,
        ends,
    });
    let mut part = backup(&played, style, &open, Level::Plain, 1);
    part.picks = picks.collect();
    let mut tab = tablature(&played, performance.swing, &open, &part, Level::Plain);
    for pass in &mut tab.passes {
        (pass.jobs, pass.together) = (vec![Job::Roll], false);
    }
    tab
}

use Finger::{Index as I, Middle as M, Thumb as T};

#[test]
fn a_roll_and_a_pinch_in_text() {
    let rows = [
        (0, 0, 3, 0, T),
        (0, 1, 2, 0, I),
        (0, 2, 5, 0, T),
        (0, 3, 1, 0, M),
        (0, 4, 4, 2, T),
        (0, 6, 3, 9, T),
        (0, 6, 2, 8, I),
        (0, 6, 1, 10, M),
        (1, 0, 3, 0, T),
        (1, 4, 4, 0, T),
    ];
    let tab = by_hand(
        "key = \"A\"\nmeter = \"4/4\"\ntempo = 96\nstyle = \"boom-chick\"",
        &rows,
        Ends::Rings,
    );
    insta::assert_snapshot!(text(&tab, 80));
    let waltz = [(0, 0, 3, 0, T), (0, 2, 2, 0, I), (0, 4, 1, 0, M), (1, 0, 4, 2, T)];
    let head = "key = \"G\"\nmeter = \"3/4\"\ntempo = 120\nstyle = \"waltz\"";
    let tab = by_hand(head, &waltz, Ends::Rings);
    insta::assert_snapshot!(text(&tab, 60));
}

#[test]
fn the_neck_of_a_song() {
    let tab = by_hand(
        "key = \"A\"\nmeter = \"4/4\"\ntempo = 96\nstyle = \"boom-chick\"",
        &[],
        Ends::Rings,
    );
    insta::assert_snapshot!(neck_text(&tab, 80));
    let drawing = xml_tree::read(&neck_svg(&tab).unwrap());
    assert_eq!(drawing.name, "svg");
    // Three shapes for each of the triads, four for the seventh chord, four dots each.
    let groups: Vec<&Node> = drawing.children("g").collect();
    assert_eq!(groups.len(), 3 + 3 + 4);
    for group in groups {
        let dots = group.children("circle").chain(group.children("rect")).count();
        assert_eq!(dots, 4);
        assert!(group.children("rect").count() >= 1, "each has its root");
        assert!(group.child("title").text.contains("frets"));
    }
    assert_eq!(drawing.child("title").text, "Heron <&> Reed: closed positions on the banjo's neck");
}

#[test]
fn every_songs_neck_is_drawn() {
    for (name, tab, _) in all().iter().step_by(3) {
        let drawing = xml_tree::read(&neck_svg(tab).unwrap());
        let view: Vec<f64> =
            drawing.attribute("viewBox").split(' ').map(|number| number.parse().unwrap()).collect();
        for node in drawing.all() {
            for (x, y) in [("x", "y"), ("cx", "cy"), ("x1", "y1"), ("x2", "y2")] {
                let (Some(x), Some(y)) = (node.get(x), node.get(y)) else { continue };
                let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
                let inside = x >= view[0] && x <= view[0] + view[2];
                assert!(inside && y >= view[1] && y <= view[1] + view[3], "{name}: {x} {y}");
            }
        }
        for fact in &tab.chords {
            assert!(!fact.closed.is_empty(), "{name} {}", fact.chord);
            let says = fact.says();
            assert!(neck_text(tab, 80).contains(&says) || fact.chord.bass.is_some(), "{says}");
        }
        for width in [40, 80] {
            assert!(!neck_text(tab, width).lines().any(|line| line.ends_with(' ')));
        }
    }
}

/// A note of a MusicXML document as it is played: where it begins in its bar, string, fret, MIDI pitch.
type Written = (i64, u8, u8, i64);

/// The notes of a measure, ties joined, and how long it is in ticks.
fn measure(measure: &Node) -> (Vec<Written>, i64) {
    let (mut at, mut last, mut notes) = (0, 0, Vec::new());
    for note in measure.children("note") {
        let length: i64 = note.child("duration").text.parse().unwrap();
        let start = if note.has("chord") { last } else { at };
        if !note.has("chord") {
            (last, at) = (at, at + length);
        }
        if note.has("rest") || note.children("tie").any(|tie| tie.attribute("type") == "stop") {
            continue;
        }
        let pitch = note.child("pitch");
        let step = pitch.child("step").text.as_str();
        let semitones = match step {
            "C" => 0,
            "D" => 2,
            "E" => 4,
            "F" => 5,
            "G" => 7,
            "A" => 9,
            "B" => 11,
            other => panic!("step {other}"),
        };
        let alter: i64 = pitch.find("alter").map_or(0, |alter| alter.text.parse().unwrap());
        let octave: i64 = pitch.child("octave").text.parse().unwrap();
        let technical = note.child("notations").child("technical");
        let number = |name| technical.child(name).text.parse::<u8>().unwrap();
        let midi = 12 * (octave + 1) + semitones + alter;
        notes.push((start, number("string"), number("fret"), midi));
    }
    (notes, at)
}

#[test]
fn musicxml_reads_back_as_what_is_picked() {
    for (name, tab, _) in all() {
        let score = xml_tree::read(&musicxml(tab, BANJO).unwrap());
        assert_eq!(score.attribute("version"), "4.0");
        let measures: Vec<&Node> = score.child("part").children("measure").collect();
        assert_eq!(measures.len(), tab.bars.len(), "{name}");
        for (written, bar) in measures.iter().zip(&tab.bars) {
            let (mut notes, length) = measure(written);
            assert_eq!(length, bar.meter.bar().get(), "{name} bar {}", bar.number);
            let picks = bar.strokes.iter().flat_map(|stroke| &stroke.picks);
            let mut wanted: Vec<Written> = picks
                .map(|p| ((p.at - bar.start).get(), p.string, p.fret, i64::from(p.pitch.get())))
                .collect();
            notes.sort_unstable();
            wanted.sort_unstable();
            assert_eq!(notes, wanted, "{name} bar {}", bar.number);
            let begun = bar.chords.iter().filter(|mark| !mark.held).count();
            assert_eq!(written.children("harmony").count(), begun, "{name} bar {}", bar.number);
        }
        let marks = measures.iter().flat_map(|measure| measure.children("direction"));
        let rehearsals = marks.filter(|mark| mark.child("direction-type").has("rehearsal"));
        assert_eq!(rehearsals.count(), tab.passes.len(), "{name}");
    }
}

#[test]
fn the_staff_is_a_banjos() {
    // MusicXML 4.0: lines are numbered from the bottom, and the tuning is that without the capo. gDGBD
    // (reference/instruments.json), short string at the bottom of the tab.
    let tab = by_hand(
        "key = \"A\"\nmeter = \"4/4\"\ntempo = 96\nstyle = \"boom-chick\"",
        &[],
        Ends::Rings,
    );
    let score = xml_tree::read(&musicxml(&tab, BANJO).unwrap());
    let attributes = score.child("part").children("measure").next().unwrap().child("attributes");
    let staff = attributes.child("staff-details");
    let tuning: Vec<String> = staff
        .children("staff-tuning")
        .map(|line| {
            let (step, octave) = (line.child("tuning-step"), line.child("tuning-octave"));
            format!("{}:{}{}", line.attribute("line"), step.text, octave.text)
        })
        .collect();
    assert_eq!(tuning, ["1:G4", "2:D3", "3:G3", "4:B3", "5:D4"]);
    assert_eq!(staff.child("staff-lines").text, "5");
    assert_eq!(staff.child("capo").text, "2");
    assert_eq!(attributes.child("clef").child("sign").text, "TAB");
    assert_eq!(attributes.child("key").child("fifths").text, "3", "A has three sharps");
    assert_eq!(score.child("work").child("work-title").text, "Heron <&> Reed");
    let program = score.child("part-list").child("score-part").child("midi-instrument");
    assert_eq!(program.child("midi-program").text, "106", "General MIDI's banjo, counted from 1");
}

#[test]
fn a_vamp_is_short_and_what_rings_is_tied() {
    let head = "key = \"G\"\nmeter = \"4/4\"\ntempo = 96\nstyle = \"boom-chick\"";
    let rows = [(0, 3, 1, 9, M), (0, 3, 2, 8, I), (0, 3, 3, 7, T)];
    let lengths = |ends| -> Vec<(bool, i64, usize)> {
        let score = xml_tree::read(&musicxml(&by_hand(head, &rows, ends), BANJO).unwrap());
        let measure = score.child("part").children("measure").next().unwrap().clone();
        let of = |note: &Node| {
            let length = note.child("duration").text.parse().unwrap();
            (note.has("rest"), length, note.children("tie").count())
        };
        measure.children("note").filter(|note| !note.has("chord")).map(of).collect()
    };
    // A dotted quarter's rest, an eighth, a half note's rest.
    assert_eq!(lengths(Ends::Vamped), [(true, 1440, 0), (false, 480, 0), (true, 1920, 0)]);
    assert_eq!(lengths(Ends::Rings), [(true, 1440, 0), (false, 480, 1), (false, 1920, 1)]);
}

#[test]
fn some_bars_alone() {
    for (name, tab, _) in all().iter().step_by(7) {
        let some = tab.only(2..=3).unwrap();
        assert_eq!(some.bars.iter().map(|bar| bar.number).collect::<Vec<_>>(), [2, 3], "{name}");
        assert!(some.opens_pass(0));
        for mark in some.bars.iter().flat_map(|bar| &bar.chords) {
            assert!(mark.chord.is_none_or(|c| some.chords.iter().any(|fact| fact.chord == c)));
        }
        assert!(tab.only(4000..=5000).is_none());
    }
}

#[test]
fn the_data_has_every_pick_and_every_chord() {
    for (name, tab, picks) in all().iter().step_by(9) {
        let data: serde_json::Value = serde_json::from_str(&json(tab).unwrap()).unwrap();
        let bars = data["bars"].as_array().unwrap();
        let count: usize = bars.iter().map(|bar| bar["picks"].as_array().unwrap().len()).sum();
        assert_eq!(count, picks.len(), "{name}");
        for bar in bars {
            for pick in bar["picks"].as_array().unwrap() {
                let number = |name: &str| pick[name].as_u64().unwrap();
                let open = data["tuning"][number("string") as usize - 1].as_u64().unwrap();
                assert_eq!(number("pitch"), open + number("fret"), "{name}");
            }
        }
        for chord in data["chords"].as_array().unwrap() {
            assert_ne!(chord["needs_closed"], chord["fifth_string"]["rings"]);
        }
    }
}
