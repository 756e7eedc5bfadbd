//! Guitar and mandolin shapes: against public tables, and for every chord there is.

use openchair::theory::fretboard::{
    ChopShape, GUITAR, GuitarShape, MANDOLIN, bass_strings, chop_shapes, fingers, guitar_shape,
    least_movement,
};
use openchair::theory::{Chord, Letter, MidiNote, PitchName, Quality};
use serde_json::Value;

fn chord(symbol: &str) -> Chord {
    Chord::parse(symbol).unwrap()
}

fn roots() -> impl Iterator<Item = PitchName> + Clone {
    (0..12).map(|class| {
        let names = Letter::ALL
            .into_iter()
            .flat_map(|letter| [0, 1].map(|accidental| PitchName::new(letter, accidental)));
        names.into_iter().find(|name| name.pitch_class() == class).unwrap()
    })
}

fn every_chord() -> impl Iterator<Item = Chord> {
    roots().flat_map(|root| Quality::all().map(move |quality| Chord::new(root, quality)))
}

/// `x32010` as frets.
fn frets<const N: usize>(text: &str) -> [Option<u8>; N] {
    let frets: Vec<_> = text.chars().map(|c| c.to_digit(10).map(|fret| fret as u8)).collect();
    frets.try_into().unwrap()
}

fn sounding(notes: &[Option<MidiNote>]) -> Vec<u8> {
    notes.iter().flatten().map(|note| note.get()).collect()
}

fn span(frets: &[Option<u8>]) -> u8 {
    let stopped = || frets.iter().flatten().copied().filter(|&fret| fret > 0);
    stopped().max().unwrap_or(0) - stopped().min().unwrap_or(0)
}

fn all_different(notes: &[u8]) -> bool {
    notes.iter().enumerate().all(|(i, note)| !notes[..i].contains(note))
}

#[test]
fn tunings() {
    // tests/reference/README.md names the sources. Strings are numbered from the highest there.
    let facts: Value = serde_json::from_str(include_str!("../reference/instruments.json")).unwrap();
    let check = |name: &str, open: &[u8], frets: u8| {
        let strings = &facts[name]["strings"];
        for (string, open) in (1..=open.len()).rev().zip(open) {
            assert_eq!(strings[string.to_string()], *open, "{name} string {string}");
        }
        assert_eq!(facts[name]["frets"], frets);
    };
    check("guitar", &GUITAR.open, GUITAR.frets);
    check("mandolin", &MANDOLIN.open, MANDOLIN.frets);
}

#[test]
fn guitar_chords_that_everyone_learns_first() {
    let table: Vec<Value> = include_str!("../reference/guitar_shapes.jsonl")
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    for (symbol, shape) in [
        ("C", "x32010"),
        ("G", "320003"),
        ("D", "xx0232"),
        ("A", "x02220"),
        ("E", "022100"),
        ("F", "133211"),
        ("Am", "x02210"),
        ("Em", "022000"),
        ("Dm", "xx0231"),
        ("Bm", "x24432"),
        ("F#m", "244222"),
        ("A7", "x02020"),
        ("E7", "020100"),
        ("D7", "xx0212"),
        ("G7", "320001"),
        ("B7", "x21202"),
        ("C7", "x32310"),
        ("B", "x24442"),
        ("Bb", "x13331"),
        ("C#m", "x46654"),
        ("C#", "x46664"),
        ("Am7", "x02010"),
        ("Cmaj7", "x32000"),
    ] {
        let held = guitar_shape(&chord(symbol), 0);
        assert_eq!(held.frets, frets(shape), "{symbol}");
        if symbol == "C7" {
            // The table has no open C7. That this is the one played is common practice, no source.
            continue;
        }
        let notes = sounding(&held.notes());
        let mut rows = table.iter().filter(|row| row["symbol"] == symbol);
        // Where a root lies on the fifth string, the table often has the sixth under the barre as
        // well; from the root up it is the same.
        let same = |row: &Value| {
            let midi =
                row["midi"].as_array().unwrap().iter().map(|note| note.as_u64().unwrap() as u8);
            midi.collect::<Vec<_>>().ends_with(&notes)
        };
        assert!(rows.any(same), "{symbol} {notes:?}");
    }
}

#[test]
fn table_shapes_sound_as_the_table_says() {
    let mut checked = 0;
    for line in include_str!("../reference/guitar_shapes.jsonl").lines() {
        let row: Value = serde_json::from_str(line).unwrap();
        let mut frets = [None; 6];
        for (fret, value) in frets.iter_mut().zip(row["frets_low_to_high"].as_array().unwrap()) {
            *fret = u8::try_from(value.as_i64().unwrap()).ok();
        }
        let notes = sounding(&GuitarShape { frets, capo: 0 }.notes());
        let midi: Vec<u64> =
            row["midi"].as_array().unwrap().iter().map(|note| note.as_u64().unwrap()).collect();
        assert_eq!(notes.iter().map(|&note| u64::from(note)).collect::<Vec<_>>(), midi, "{line}");
        checked += 1;
    }
    assert_eq!(checked, 787);
}

#[test]
fn every_guitar_chord_is_playable_and_right_at_every_capo() {
    for capo in 0..=12 {
        for chord in every_chord() {
            check_guitar(&chord, capo);
        }
    }
}

#[test]
fn every_slash_chord_too() {
    for over in roots() {
        for chord in every_chord() {
            check_guitar(&Chord { bass: Some(over), ..chord }, 2);
        }
    }
}

fn check_guitar(chord: &Chord, capo: u8) {
    let shape = guitar_shape(chord, capo);
    let notes = sounding(&shape.notes());
    let what = format!("{chord} capo {capo}: {:?}", shape.frets);
    let bare_fifth = chord.quality.intervals().len() == 2;
    assert!(notes.len() >= if bare_fifth { 3 } else { 4 }, "{what}");
    // The strings struck lie side by side, from one of the three low ones.
    let first = shape.lowest_string();
    assert!(first <= 2, "{what}");
    assert!(shape.frets[first..first + notes.len()].iter().all(Option::is_some), "{what}");
    assert_eq!(notes[0] % 12, chord.bass_class(), "{what}");
    assert!(notes[1..].iter().all(|note| chord.tones().any(|tone| tone == note % 12)), "{what}");
    assert!(all_different(&notes), "{what}");
    assert_eq!(notes.iter().min(), notes.first(), "{what}");
    // With a root in the bass nothing that names the chord is missing.
    let heard = |interval: u8| {
        notes.iter().any(|note| note % 12 == (chord.root.pitch_class() + interval) % 12)
    };
    let named = chord.quality.essential();
    let named = if chord.bass.is_some() { &named[..1] } else { named };
    assert!(named.iter().all(|&interval| heard(interval)), "{what}");
    assert!(fingers(&shape.frets) <= 4, "{what}");
    let lowest = shape.frets.iter().flatten().filter(|&&fret| fret > 0).min();
    assert!(span(&shape.frets) <= if lowest.is_some_and(|&l| l >= 6) { 4 } else { 3 }, "{what}");
    assert!(shape.frets.iter().flatten().all(|fret| fret + capo <= GUITAR.frets), "{what}");

    let bass = bass_strings(&shape, chord, capo);
    assert_eq!((bass.root.0, bass.root.1.get()), (first, notes[0]), "{what}");
    let Some((string, fifth)) = bass.fifth else {
        // Only in chords that leave no finger free.
        assert!(chord.bass.is_some() || chord.quality.intervals().len() > 4, "no fifth: {what}");
        return;
    };
    assert!(string <= 2 && fifth != bass.root.1, "{what}");
    let fifth_class = (chord.root.pitch_class() + chord.quality.fifth().unwrap()) % 12;
    let class = fifth.pitch_class();
    let root_in_turn = chord.bass.is_some() && class == chord.root.pitch_class();
    assert!(class == fifth_class || root_in_turn, "{what}");
    assert!(fifth.get() >= GUITAR.open[string] + capo, "{what}");
}

#[test]
fn the_alternate_bass_falls_where_pickers_have_it() {
    // Common practice, no source. Strings as players number them.
    for (symbol, root, fifth) in [
        ("C", (5, 48), (6, 43)),
        ("G", (6, 43), (4, 50)),
        ("D", (4, 50), (5, 45)),
        ("A", (5, 45), (6, 40)),
        ("E", (6, 40), (5, 47)),
        ("F", (6, 41), (5, 48)),
        ("Am", (5, 45), (6, 40)),
        ("Dm", (4, 50), (5, 45)),
        ("Bm", (5, 47), (6, 42)),
        ("B7", (5, 47), (6, 42)),
        // The chord's own fifth: flat in a diminished chord, sharp in an augmented one.
        ("Bdim", (5, 47), (6, 41)),
        ("Caug", (5, 48), (6, 44)),
        // The fifth is in the bass already.
        ("C/G", (6, 43), (5, 48)),
    ] {
        let bass = bass_strings(&guitar_shape(&chord(symbol), 0), &chord(symbol), 0);
        let named = |(string, note): (usize, MidiNote)| (6 - string, note.get());
        assert_eq!((named(bass.root), bass.fifth.map(named)), (root, Some(fifth)), "{symbol}");
    }
}

#[test]
fn a_capo_moves_the_shape_not_the_sound() {
    let (open, capoed) = (guitar_shape(&chord("G"), 0), guitar_shape(&chord("A"), 2));
    assert_eq!(open.frets, capoed.frets);
    let up: Vec<u8> = sounding(&open.notes()).iter().map(|note| note + 2).collect();
    assert_eq!(sounding(&capoed.notes()), up);
}

#[test]
fn the_known_chops_are_found() {
    // "The Bluegrass G chop chord", 2016; the notes are computed. Frets on G, D, A, E.
    for (symbol, shape, notes) in [
        ("G", "7523", &[62, 67, 71, 79][..]),
        ("G", "452x", &[59, 67, 71]),
        ("G", "455x", &[59, 67, 74]),
        ("F", "233x", &[57, 65, 72]),
    ] {
        let shapes = chop_shapes(&chord(symbol));
        let found = shapes.iter().find(|found| found.frets == frets(shape));
        assert_eq!(sounding(&found.unwrap().notes()), notes, "{shape}");
    }
}

#[test]
fn every_chop_is_closed_playable_and_right() {
    for chord in every_chord() {
        let shapes = chop_shapes(&chord);
        assert!(shapes.len() >= 3, "{chord} has {}", shapes.len());
        assert!(shapes.is_sorted_by_key(|shape| shape.cost), "{chord}");
        for shape in &shapes {
            let what = format!("{chord}: {:?}", shape.frets);
            let notes = sounding(&shape.notes());
            let struck: Vec<usize> = (0..4).filter(|&i| shape.frets[i].is_some()).collect();
            assert!(struck.len() >= 3 && struck.windows(2).all(|pair| pair[1] == pair[0] + 1));
            assert!(shape.frets.iter().flatten().all(|fret| (1..=12).contains(fret)), "{what}");
            assert!(all_different(&notes), "{what}");
            assert!(notes.iter().all(|note| chord.contains(note % 12)), "{what}");
            let heard = |&interval: &u8| {
                notes.iter().any(|note| note % 12 == (chord.root.pitch_class() + interval) % 12)
            };
            assert!(chord.quality.essential().iter().all(heard), "{what}");
            assert!(fingers(&shape.frets) <= 4 && span(&shape.frets) <= 5, "{what}");
        }
    }
}

#[test]
fn a_slash_bass_is_not_in_the_chop() {
    assert_eq!(chop_shapes(&chord("Am/F#")), chop_shapes(&chord("Am")));
}

/// Own cost and movement of a way through the shapes.
fn cost(candidates: &[Vec<ChopShape>], sequence: &[usize], way: &[usize]) -> u32 {
    let shapes: Vec<&ChopShape> =
        sequence.iter().zip(way).map(|(&chord, &shape)| &candidates[chord][shape]).collect();
    let moved: u32 = shapes.windows(2).map(|pair| pair[0].movement(pair[1])).sum();
    shapes.iter().map(|shape| shape.cost).sum::<u32>() + moved
}

#[test]
fn no_other_way_moves_the_hand_less() {
    let candidates: Vec<Vec<ChopShape>> = ["G", "C", "D7", "Em"]
        .map(|symbol| chop_shapes(&chord(symbol)).into_iter().take(9).collect())
        .to_vec();
    for sequence in [[0, 1, 0, 2], [3, 1, 2, 0], [0, 0, 2, 2], [2, 3, 2, 1]] {
        let way = least_movement(&candidates, &sequence);
        let all = (0..9usize.pow(4)).map(|n| [n / 729, n / 81 % 9, n / 9 % 9, n % 9]);
        let least = all.map(|other| cost(&candidates, &sequence, &other)).min();
        assert_eq!(Some(cost(&candidates, &sequence, &way)), least, "{sequence:?}");
    }
}

#[test]
fn the_way_goes_round_what_cannot_be_chopped() {
    let candidates = vec![chop_shapes(&chord("G")), Vec::new(), chop_shapes(&chord("C"))];
    assert!(least_movement(&candidates, &[]).is_empty());
    let way = least_movement(&candidates, &[0, 2, 1, 0, 2, 9, 2]);
    let alone = least_movement(&candidates, &[0, 2]);
    assert_eq!(way, [alone[0], alone[1], 0, alone[0], alone[1], 0, 0]);
}

#[test]
fn the_hand_stays_near_in_common_changes() {
    // Common practice, no source: G, C and D lie within a few frets of each other.
    let candidates = ["G", "C", "D"].map(|symbol| chop_shapes(&chord(symbol))).to_vec();
    let sequence = [0, 1, 0, 2, 0, 1, 2, 0];
    let way = least_movement(&candidates, &sequence);
    let places: Vec<u8> =
        sequence.iter().zip(&way).map(|(&c, &shape)| candidates[c][shape].position()).collect();
    assert!(places.windows(2).all(|pair| pair[0].abs_diff(pair[1]) <= 3), "{places:?}");
}
