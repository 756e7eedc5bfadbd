//! The banjo's part written out: as text, as data and as diagrams of the neck it says what is picked, no
//! more and no less, whatever the song, the level and the key.

use openchair::perform::{Ends, Pick};
use openchair::tablature::{TabBar, Tablature, bars_as_text, json, neck_svg, neck_text, text};
use openchair::theory::fretboard::banjo::Finger::{Index as I, Middle as M, Thumb as T};
use openchair::time::{Meter, Ticks};

use crate::common::slurred;
use crate::common::written::{all, by_hand};
use crate::common::xml_tree;
use crate::common::xml_tree::Node;

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
        let picks = tab.bars.iter().flat_map(|bar| &bar.strokes).flat_map(|stroke| &stroke.picks);
        assert_eq!(letters, picks.filter_map(Pick::finger).count(), "{name}");
    }
}

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

/// A bar of two beats between bars of three, with eighths and with sixteenths in it.
#[test]
fn a_short_bar_is_the_narrower_one() {
    let head = "key = \"G\"\nmeter = \"3/4\"\ntempo = 120\nstyle = \"waltz\"";
    let rows =
        [(0, 0, 3, 0, T), (0, 2, 2, 10, I), (1, 0, 4, 2, T), (1, 1, 2, 1, I), (1, 3, 1, 0, M)];
    let mut tab = by_hand(head, &rows, Ends::Rings);
    tab.bars[1].meter = Meter::TwoFour.into();
    for sixteenths in [false, true] {
        if sixteenths {
            for stroke in &mut tab.bars[1].strokes {
                stroke.at = Ticks::new(stroke.at.get() / 2);
            }
        }
        let text = text(&tab, 200);
        let string = text.lines().find(|line| line.starts_with("D|")).unwrap();
        let widths: Vec<usize> = string.split('|').skip(1).map(str::len).collect();
        assert!(widths[1] < widths[0], "{text}");
        // Alone it takes no more than it needs.
        let alone = &bars_as_text(&tab)[1];
        let row = alone.lines().find(|line| line.starts_with("D|")).unwrap();
        assert!(row.len() <= 20, "{alone}");
        assert_eq!(alone.lines().filter(|line| line.contains('|')).count(), 5);
    }
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
            let fifth = &chord["fifth_string"];
            let sounds = fifth["rings"] == true || fifth["drones"] == true;
            assert_eq!(chord["needs_closed"], !sounds);
        }
    }
}

#[test]
fn the_left_hand_in_text_and_in_data() {
    let tab = slurred::tab(140, "G");
    let text = text(&tab, 80);
    assert_eq!(read(&text), picked(&tab));
    insta::assert_snapshot!(text);
    let data: serde_json::Value = serde_json::from_str(&json(&tab).unwrap()).unwrap();
    let bars = data["bars"].as_array().unwrap();
    let picks: Vec<&serde_json::Value> =
        bars.iter().flat_map(|bar| bar["picks"].as_array().unwrap()).collect();
    let slurs: Vec<String> = picks
        .iter()
        .filter(|pick| pick.get("slur").is_some())
        .map(|pick| {
            assert!(pick["finger"].is_null(), "no finger of the right hand: {pick}");
            let slur = &pick["slur"];
            format!("{} {} to {}", slur["kind"].as_str().unwrap(), slur["from"], pick["fret"])
        })
        .collect();
    assert_eq!(
        slurs,
        [
            "slide 2 to 4",
            "hammer 0 to 2",
            "pull 2 to 0",
            "slide 3 to 1",
            "pull 1 to 0",
            "slide 5 to 9"
        ]
    );
    let choked = picks.iter().filter(|pick| pick.get("choked").is_some());
    assert!(choked.clone().all(|pick| pick["choked"] == true && pick["ends"] == "vamped"));
    assert_eq!(choked.count(), 3);
    assert!(bars.iter().all(|bar| bar.get("lick").is_none()));
    let named = Tablature {
        bars: tab
            .bars
            .iter()
            .map(|bar| TabBar { lick: Some("gate".to_owned()), ..bar.clone() })
            .collect(),
        ..tab
    };
    let data: serde_json::Value = serde_json::from_str(&json(&named).unwrap()).unwrap();
    assert_eq!(data["bars"][0]["lick"], "gate");
}

#[test]
fn the_legend_says_only_what_is_used() {
    let head = "key = \"G\"\nmeter = \"4/4\"\ntempo = 96\nstyle = \"boom-chick\"";
    let rows = [(0, 0, 3, 0, T), (0, 2, 2, 0, I)];
    let plain = by_hand(head, &rows, Ends::Rings);
    assert!(!text(&plain, 80).contains("Left hand"));
    let vamp = by_hand(head, &rows, Ends::Vamped);
    assert!(text(&vamp, 80).contains("Left hand: x choked, a hand laid on the strings at once."));
    let mut slurs = slurred::tab(140, "G");
    slurs.bars.truncate(1);
    let legend = "Left hand: s slide, h hammer-on, p pull-off.";
    assert!(text(&slurs, 80).lines().any(|line| line == legend));
}
