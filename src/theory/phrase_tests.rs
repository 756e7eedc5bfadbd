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
                    leans: false,
                    seed: 0,
                }];
                assert!(range.contains(&phrase.notes(&wanted)[0].get()));
            }
        }
    }
}
