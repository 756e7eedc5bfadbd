use super::*;

fn phrase(key: &str) -> Phrase {
    let key = Key::parse(key).unwrap();
    let heights = (69, 79, 67);
    Phrase { key, blues: false, bends: false, range: 55..=83, from: None, heights }
}

fn played(key: &str, chords: &[&str], seed: u64) -> Vec<(u8, Weight, Chord)> {
    let chords: Vec<Chord> = chords.iter().map(|chord| Chord::parse(chord).unwrap()).collect();
    let count = chords.len() as i32 * 8;
    let wanted: Vec<PhraseNote<'_>> = (0..count)
        .map(|at| PhraseNote {
            chord: &chords[at as usize / 8],
            weight: match at % 4 {
                _ if at + 1 == count => Weight::Last,
                0 => Weight::Strong,
                2 => Weight::Beat,
                _ => Weight::Passing,
            },
            place: at * 1000 / count,
            echo: None,
            stale: None,
            plain: false,
            leans: false,
            seed: seed.wrapping_mul(31).wrapping_add(at as u64),
        })
        .collect();
    let notes = phrase(key).notes(&wanted);
    notes.iter().zip(&wanted).map(|(n, w)| (n.get(), w.weight, *w.chord)).collect()
}

#[test]
fn strong_beats_have_the_chord_and_the_line_moves_by_step() {
    let charts = [
        ("G", ["G", "C", "D7", "G"]),
        ("Am", ["Am", "G", "F", "E7"]),
        ("A", ["A", "F#7", "Bm", "E"]),
    ];
    for (key, chords) in charts {
        for seed in 0..40 {
            let line = played(key, &chords, seed);
            let (mut steps, mut leaps) = (0, 0);
            for pair in line.windows(2) {
                match pair[1].0.abs_diff(pair[0].0) {
                    0 => {}
                    1..=4 => steps += 1,
                    leap => {
                        leaps += 1;
                        assert!(leap <= 12 && leap != 6, "{key} {seed}: {line:?}");
                    }
                }
            }
            assert!(steps > 4 * leaps, "{key} {seed}: {steps} steps and {leaps} leaps");
            for (note, weight, chord) in &line {
                assert!((55..=83).contains(note));
                if matches!(weight, Weight::Strong | Weight::Last) {
                    assert!(chord.contains(note % 12), "{key} {seed}: {note} on {chord}");
                }
                if *weight == Weight::Beat {
                    assert!(!clashes(chord, i32::from(*note)), "{note} on {chord}");
                }
            }
        }
    }
}

#[test]
fn it_peaks_in_the_third_quarter() {
    let mut late = 0;
    for seed in 0..40 {
        let line = played("G", &["G", "C", "D7", "G"], seed);
        let mean = |range: std::ops::Range<usize>| -> f64 {
            let notes = &line[range];
            notes.iter().map(|note| f64::from(note.0)).sum::<f64>() / notes.len() as f64
        };
        late += usize::from(mean(16..24) > mean(0..8) && mean(16..24) > mean(24..32));
    }
    assert!(late >= 38, "{late} of 40");
}

#[test]
fn an_answer_sounds_like_its_question() {
    let chord = Chord::parse("G").unwrap();
    let line: Vec<MidiNote> = [67, 71, 74, 71, 69, 67].map(MidiNote::clamped).to_vec();
    let wanted: Vec<PhraseNote<'_>> = line
        .iter()
        .zip(0..)
        .map(|(note, at)| PhraseNote {
            chord: &chord,
            weight: if at % 2 == 0 { Weight::Beat } else { Weight::Passing },
            place: at * 160,
            echo: Some(*note),
            stale: None,
            plain: false,
            leans: false,
            seed: 5,
        })
        .collect();
    assert_eq!(phrase("G").notes(&wanted), line);
}

#[test]
fn no_chord_and_no_range_leaves_it_without_a_note() {
    for quality in crate::theory::Quality::all() {
        let root = Key::parse("F#").unwrap().tonic;
        let chord = Chord::new(root, quality);
        for weight in [Weight::Strong, Weight::Beat, Weight::Passing, Weight::Last, Weight::Home] {
            for range in [28..=43, 55..=83, 60..=60] {
                let phrase = Phrase { range: range.clone(), ..phrase("C") };
                let wanted = [PhraseNote {
                    chord: &chord,
                    weight,
                    place: 0,
                    echo: None,
                    stale: None,
                    plain: false,
                    leans: false,
                    seed: 0,
                }];
                assert!(range.contains(&phrase.notes(&wanted)[0].get()));
            }
        }
    }
}

/// Eighths over two bars of a chord, as one who bends and leans plays them.
fn bent(chord: &Chord, seed: u64, stale: &[MidiNote], plain: i32) -> Vec<MidiNote> {
    let wanted: Vec<PhraseNote<'_>> = (0..16)
        .map(|at| PhraseNote {
            chord,
            weight: match at % 4 {
                _ if at == 15 => Weight::Last,
                0 => Weight::Strong,
                2 => Weight::Beat,
                _ => Weight::Passing,
            },
            place: at * 1000 / 16,
            echo: None,
            stale: stale.get(at as usize).copied().filter(|_| at % 4 != 0),
            plain: at < plain,
            leans: (1..15).contains(&at) && at % 2 == 0,
            seed: seed.wrapping_mul(31).wrapping_add(at as u64),
        })
        .collect();
    Phrase { bends: true, ..phrase("G") }.notes(&wanted)
}

#[test]
fn blue_notes_go_through_and_wait_for_the_key() {
    let chord = Chord::parse("G").unwrap();
    let mut blue = 0;
    for seed in 0..200 {
        let line: Vec<u8> = bent(&chord, seed, &[], 8).iter().map(|note| note.get()).collect();
        for (at, note) in line.iter().enumerate() {
            let (third, seventh) = (note % 12 == 10, note % 12 == 5);
            if !third && !seventh {
                continue;
            }
            blue += 1;
            assert!((8..15).contains(&at), "{seed}: {line:?}");
            let (before, after) = (line[at - 1], line[at + 1]);
            assert_ne!(before, after, "it rocks: {seed}: {line:?}");
            if seventh {
                assert!(before > *note && after < *note, "up a flat seventh: {seed}: {line:?}");
            }
        }
    }
    assert!(blue > 20, "only {blue}");
}

#[test]
fn what_comes_back_goes_another_way() {
    let chord = Chord::parse("G").unwrap();
    let (mut same, mut all) = (0, 0);
    for seed in 0..40 {
        let first = bent(&chord, seed, &[], 16);
        let again = bent(&chord, seed, &first, 16);
        all += 1;
        same += usize::from(first == again);
    }
    assert!(same * 10 < all, "{same} of {all}");
}
