//! The hand that the measures suppose, held against published shapes.

use serde_json::Value;

use crate::measure::neck::Neck;

#[test]
fn published_chops_are_held_as_published() {
    // "The Bluegrass G chop chord", 2016: frets 7 5 2 3 and 4 5 2 of G, 2 3 3 of F, on G, D, A, E.
    let neck = Neck::mandolin();
    for (notes, frets) in [
        (&[62, 67, 71, 79][..], &[7, 5, 2, 3][..]),
        (&[59, 67, 71], &[4, 5, 2]),
        (&[57, 65, 72], &[2, 3, 3]),
    ] {
        let grip = neck.hold(notes, 0).unwrap();
        let found: Vec<u8> = grip.frets.iter().map(|&(_, fret)| fret).collect();
        assert_eq!(found, frets);
        assert_eq!(grip.position, frets.iter().min().copied());
    }
}

#[test]
fn every_published_guitar_shape_can_be_held() {
    // npm @tombatossals/chords-db 0.5.1 (reference/README.md).
    let neck = Neck::guitar();
    let mut held = 0;
    for line in include_str!("../reference/guitar_shapes.jsonl").lines() {
        let row: Value = serde_json::from_str(line).unwrap();
        let notes = row["midi"].as_array().unwrap().iter();
        let notes: Vec<u8> = notes.map(|note| note.as_u64().unwrap() as u8).collect();
        for capo in [0, 2, 5] {
            let sounding: Vec<u8> = notes.iter().map(|note| note + capo).collect();
            assert!(neck.hold(&sounding, capo).is_some(), "{line} with the capo at {capo}");
        }
        held += 1;
    }
    assert_eq!(held, 787);
}

#[test]
fn what_no_hand_can_do_is_told() {
    let (guitar, mandolin) = (Neck::guitar(), Neck::mandolin());
    // Both lie on the low E string alone.
    assert_eq!(guitar.hold(&[40, 41], 0), None);
    assert_eq!(guitar.hold(&[39], 0), None, "below the neck");
    assert_eq!(guitar.hold(&[64 + 21], 0), None, "past it");
    assert_eq!(guitar.hold(&[40], 2), None, "behind the capo");
    assert!(guitar.hold(&[40, 45, 50, 55, 59, 64], 0).unwrap().position.is_none(), "all open");
    assert_eq!(guitar.hold(&[40, 45, 50, 55, 59, 64, 69], 0), None, "seven strings");
    // F on the first fret of the low E, A on the fifth of the high one.
    assert_eq!(guitar.hold(&[41, 46, 51, 56, 60, 69], 0), None, "too wide");
    // Five fingers: no two at one fret, none to be reached elsewhere.
    assert_eq!(guitar.hold(&[44, 48, 52, 58, 60, 67], 0), None);
    assert_eq!(mandolin.hold(&[55, 67, 71], 0), None, "an open string in a chop");
}
