//! The banjo's part as MusicXML says what is picked, no more and no less, and fills its measures.

use openchair::perform::Ends;
use openchair::tablature::musicxml;
use openchair::theory::fretboard::banjo::Finger::{Index as I, Middle as M, Thumb as T};

use crate::common::slurred;
use crate::common::written::{BANJO, all, by_hand};
use crate::common::xml_tree;
use crate::common::xml_tree::Node;

/// A note of a MusicXML document as it is played: where it begins in its bar, string, fret, MIDI pitch.
type Written = (i64, u8, u8, i64);

/// A pitch by its letter, alteration and octave as MIDI numbers it: C4 is 60.
fn midi(pitch: &Node, [step, alter, octave]: [&str; 3]) -> i64 {
    let letter = pitch.child(step).text.chars().next().unwrap();
    let semitones = [9, 11, 0, 2, 4, 5, 7][letter as usize - 'A' as usize];
    let alter: i64 = pitch.find(alter).map_or(0, |alter| alter.text.parse().unwrap());
    let octave: i64 = pitch.child(octave).text.parse().unwrap();
    12 * (octave + 1) + semitones + alter
}

/// What the strings sound open, from the lowest line of the tab up.
fn tuning(measure: &Node) -> Vec<i64> {
    let staff = measure.child("attributes").child("staff-details");
    let names = ["tuning-step", "tuning-alter", "tuning-octave"];
    staff.children("staff-tuning").map(|line| midi(line, names)).collect()
}

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
        let midi = midi(note.child("pitch"), ["step", "alter", "octave"]);
        let technical = note.child("notations").child("technical");
        let number = |name| technical.child(name).text.parse::<u8>().unwrap();
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
        let open = tuning(measures[0]);
        assert_eq!(measures.len(), tab.bars.len(), "{name}");
        for (written, bar) in measures.iter().zip(&tab.bars) {
            let (mut notes, length) = measure(written);
            assert_eq!(length, bar.meter.bar().get(), "{name} bar {}", bar.number);
            let picks = bar.strokes.iter().flat_map(|stroke| &stroke.picks);
            let mut wanted: Vec<Written> = picks
                .map(|p| ((p.at - bar.start).get(), p.string, p.fret, i64::from(p.pitch.get())))
                .collect();
            for (_, string, fret, pitch) in &notes {
                let open = open[5 - usize::from(*string)];
                assert_eq!(open + i64::from(*fret), *pitch, "{name} bar {}", bar.number);
            }
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
    // MusicXML 4.0: lines are numbered from the bottom. gDGBD (reference/instruments.json) two frets up, the short
    // string at the bottom of the tab; no capo besides, which would raise it once more.
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
            let alter = line.find("tuning-alter").map_or("", |alter| &alter.text);
            format!("{}:{}{alter}/{}", line.attribute("line"), step.text, octave.text)
        })
        .collect();
    assert_eq!(tuning, ["1:A/4", "2:E/3", "3:A/3", "4:C1/4", "5:E/4"]);
    assert_eq!(staff.child("staff-lines").text, "5");
    assert!(!staff.has("capo"));
    let document = musicxml(&tab, BANJO).unwrap();
    assert!(document.contains("capo 2, fifth string held down at fret 7"));
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

/// MusicXML 4.0: `slide` and `slur` are notations, `hammer-on` and `pull-off` technical ones; each begins with one note
/// and ends with another, and a number pairs them.
#[test]
fn what_the_left_hand_joins_is_joined_in_musicxml() {
    for key in ["G", "A"] {
        let score = xml_tree::read(&musicxml(&slurred::tab(140, key), BANJO).unwrap());
        let mut open: Vec<(String, String, i64, String)> = Vec::new();
        let mut joined: Vec<(String, i64, i64)> = Vec::new();
        let mut staccatos = 0;
        for note in score.child("part").children("measure").flat_map(|bar| bar.children("note")) {
            let Some(notations) = note.find("notations") else { continue };
            let technical = notations.child("technical");
            let (string, fret) =
                (technical.child("string").text.clone(), &technical.child("fret").text);
            let fret: i64 = fret.parse().unwrap();
            staccatos += usize::from(note.all().iter().any(|node| node.name == "staccato"));
            let marks = notations.all().into_iter().filter(|node| {
                ["slide", "slur", "hammer-on", "pull-off"].contains(&node.name.as_str())
            });
            let mut marks: Vec<&Node> = marks.collect();
            // What ends comes before what begins.
            marks.sort_by_key(|node| node.attribute("type") == "start");
            for node in marks {
                let id = (node.name.clone(), node.attribute("number").to_owned());
                let place =
                    open.iter().position(|(name, number, ..)| (name, number) == (&id.0, &id.1));
                match (node.attribute("type"), place) {
                    ("start", None) => open.push((id.0, id.1, fret, string.clone())),
                    ("stop", Some(place)) => {
                        let (name, _, from, on) = open.remove(place);
                        assert_eq!(on, string, "on one string");
                        assert!(!technical.has("pluck"), "the right hand has no part in it");
                        joined.push((name, from, fret));
                    }
                    other => panic!("{other:?}"),
                }
            }
        }
        assert!(open.is_empty(), "{open:?}");
        let of = |name: &str| -> Vec<(i64, i64)> {
            let own = joined.iter().filter(|(other, ..)| other == name);
            own.map(|&(_, from, to)| (from, to)).collect()
        };
        assert_eq!(of("slide"), [(2, 4), (3, 1), (5, 9)]);
        assert_eq!(of("hammer-on"), [(0, 2)]);
        assert_eq!(of("pull-off"), [(2, 0), (1, 0)]);
        assert_eq!(of("slur").len(), 6, "a bow over each");
        assert_eq!(staccatos, 1, "once for the choked chord");
    }
}

#[test]
fn what_goes_on_from_a_bar_that_is_not_written_is_joined_to_nothing() {
    let mut tab = slurred::tab(140, "G");
    let slid = tab.bars[0].strokes.remove(0);
    assert_eq!((slid.picks[0].string, slid.picks[0].fret), (3, 2));
    let document = musicxml(&tab, BANJO).unwrap();
    assert_eq!(document.matches("<slide type=\"start\"").count(), 2);
    assert_eq!(document.matches("<slide type=\"stop\"").count(), 2);
}
