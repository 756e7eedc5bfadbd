//! The five-string banjo: tuning and rolls against what is published, and every chord there is.

use openchair::theory::fretboard::banjo::{
    BANJO, BanjoHand, Drone, Finger, Hit, Moment, Plucks, Way, number_at, pinch, right_hand,
    short_string_rings, vamp_shapes,
};
use openchair::theory::{Chord, Letter, PitchName, Quality};
use proptest::prelude::*;
use serde_json::Value;

/// gDGBD by the player's numbers, first string first (reference/instruments.json holds the same).
const OPEN: [u8; 5] = [62, 59, 55, 50, 67];

fn open(number: u8) -> u8 {
    OPEN[usize::from(number) - 1]
}

fn chord(symbol: &str) -> Chord {
    Chord::parse(symbol).unwrap()
}

fn every_chord() -> impl Iterator<Item = Chord> + Clone {
    (0..12).flat_map(|class| {
        let names = Letter::ALL
            .into_iter()
            .flat_map(|letter| [0, 1].map(|accidental| PitchName::new(letter, accidental)));
        let root = names.into_iter().find(|name| name.pitch_class() == class).unwrap();
        Quality::all().map(move |quality| Chord::new(root, quality))
    })
}

/// Frets between the lowest and the highest finger.
fn span(frets: &[Option<u8>]) -> u8 {
    let stopped = || frets.iter().flatten().copied().filter(|&fret| fret > 0);
    stopped().max().unwrap_or(0) - stopped().min().unwrap_or(0)
}

/// Four frets under the hand, five from the sixth on: a guitar's reach, on frets as wide (common
/// practice, no source).
fn within_reach(frets: &[Option<u8>]) -> bool {
    let lowest = frets.iter().flatten().copied().filter(|&fret| fret > 0).min().unwrap_or(0);
    span(frets) <= if lowest >= 6 { 4 } else { 3 }
}

#[test]
fn tuning() {
    let facts: Value = serde_json::from_str(include_str!("../reference/instruments.json")).unwrap();
    let banjo = &facts["banjo5"];
    for number in 1..=5_u8 {
        assert_eq!(banjo["strings"][number.to_string()], open(number));
        let place = (0..5).find(|&place| number_at(place) == number).unwrap();
        assert_eq!(BANJO.open[place], open(number));
    }
    assert_eq!(banjo["frets"], BANJO.frets);
}

/// One string a moment, so far apart.
fn roll(hand: &BanjoHand, strings: &[Option<u8>], apart: i64) -> Vec<Moment> {
    let moments = (0..).step_by(apart as usize).zip(strings);
    moments
        .filter_map(|(at, string)| {
            Some(Moment { at, ways: hand.strings([(*string)?].into_iter()) })
        })
        .collect()
}

#[test]
fn published_rolls_come_out_with_their_fingers() {
    let rolls: Vec<Value> = serde_json::from_str(include_str!("../reference/rolls.json")).unwrap();
    assert_eq!(rolls.len(), 6);
    let g = BanjoHand::new(&chord("G"), 0, Drone::Fits);
    for row in &rolls {
        let numbers = |key: &str| -> Vec<Option<u8>> {
            let list = row[key].as_array().unwrap();
            list.iter().map(|n| n.as_u64().map(|n| u8::try_from(n).unwrap())).collect()
        };
        let strings = numbers("strings");
        let played = right_hand(&roll(&g, &strings, 480), 480);
        let picks: Vec<_> = played.iter().flat_map(Plucks::iter).collect();
        let fingers: String = picks.iter().map(|pick| pick.finger.letter()).collect();
        let written = row["fingers"].as_str().unwrap().replace('-', "");
        assert_eq!(fingers, written, "{}", row["name"]);
        let sounded: Vec<u8> = picks.iter().map(|pick| pick.pitch(0).get()).collect();
        let midi: Vec<u8> = numbers("midi_open_G").into_iter().flatten().collect();
        assert_eq!(sounded, midi, "{}", row["name"]);
        assert!(
            picks.iter().map(|pick| Some(pick.string)).eq(strings.into_iter().flatten().map(Some))
        );
    }
}

/// The same rolls over and over, on every chord: no finger twice in a row, every note of the chord, and
/// no finger on a string that the rule does not give it.
#[test]
fn published_rolls_go_on_any_chord() {
    let rolls: Vec<Value> = serde_json::from_str(include_str!("../reference/rolls.json")).unwrap();
    for chord in every_chord() {
        let hand = BanjoHand::new(&chord, 0, Drone::Fits);
        for row in &rolls {
            let list = row["strings"].as_array().unwrap();
            let strings: Vec<Option<u8>> =
                list.iter().map(|n| n.as_u64().map(|n| u8::try_from(n).unwrap())).collect();
            let moments = roll(&hand, &strings.repeat(3), 480);
            let played = right_hand(&moments, 480);
            hold(&moments, &played, 480);
            for plucks in &played {
                assert!(!plucks.is_empty(), "{chord} {}: a note is left out", row["name"]);
                for pick in plucks.iter() {
                    let note = pick.pitch(0).pitch_class();
                    let fits = chord.contains(note)
                        || (pick.string == 5 && short_string_rings(&chord, 0, Drone::Fits));
                    assert!(fits, "{chord} {pick:?}");
                    // The backward roll begins anew with the finger that ended it.
                    let usual = pick.finger.is_usual(pick.string) || row["name"] == "backward";
                    assert!(usual, "{chord} {} {pick:?}", row["name"]);
                }
            }
        }
    }
}

/// What holds whatever is asked for.
fn hold(moments: &[Moment], played: &[Plucks], soon: i64) {
    assert_eq!(moments.len(), played.len());
    let mut last: Option<(i64, &Plucks)> = None;
    for (moment, plucks) in moments.iter().zip(played) {
        let picks: Vec<_> = plucks.iter().collect();
        for (i, pick) in picks.iter().enumerate() {
            assert!((1..=5).contains(&pick.string) && pick.fret <= 22);
            assert!(pick.string != 5 || pick.fret == 0, "the short string is picked open");
            assert!(picks[..i].iter().all(|other| other.string != pick.string));
            assert!(picks[..i].iter().all(|other| other.finger != pick.finger));
            assert!(pick.string != 5 || pick.finger == Finger::Thumb);
        }
        if picks.is_empty() {
            continue;
        }
        if let Some((_, others)) = last.filter(|(at, _)| moment.at - at <= soon) {
            assert!(!plucks.share_a_finger(others), "{others:?} {plucks:?}");
        }
        last = Some((moment.at, plucks));
    }
}

#[test]
fn every_chord_lies_under_the_hand_at_every_capo() {
    for capo in 0..=5 {
        for chord in every_chord() {
            let hand = BanjoHand::new(&chord, capo, Drone::Fits);
            let frets = hand.shape().frets;
            assert!(frets.iter().all(Option::is_some), "{chord}: each long string has a tone");
            assert!(within_reach(&frets), "{chord} at {capo}: {frets:?}");
            let stopped = frets.iter().flatten().filter(|&&fret| fret > 0).count();
            let lowest = frets.iter().flatten().copied().filter(|&fret| fret > 0).min();
            let at_lowest = frets.iter().filter(|&&fret| fret == lowest).count();
            assert!(stopped <= 4 && (stopped < 4 || at_lowest > 0));
            let mut heard = Vec::new();
            for number in 1..=4 {
                let note = hand.note(number).unwrap().get();
                assert_eq!(note, open(number) + hand.fret(number).unwrap() + capo);
                assert!(chord.contains(note % 12), "{chord} at {capo}: {note}");
                heard.push(note % 12);
            }
            // What names it is there: its third or what stands for that, a seventh.
            let root = chord.root.pitch_class();
            for interval in chord.quality.essential().iter().take(2) {
                assert!(heard.contains(&((root + interval) % 12)), "{chord} at {capo}: {frets:?}");
            }
        }
    }
}

/// Open strings where the chord has them is what makes it a banjo: in its own keys most chords have one.
#[test]
fn low_shapes_are_low() {
    for symbol in
        ["G", "C", "D", "Em", "Am", "A", "D7", "E", "F", "Bm", "B7", "A7", "E7", "Dm", "Bb"]
    {
        let hand = BanjoHand::new(&chord(symbol), 0, Drone::Fits);
        assert!(hand.shape().frets.iter().flatten().all(|&fret| fret <= 5), "{symbol} {hand:?}");
    }
}

#[test]
fn every_vamp_is_closed_and_up_the_neck() {
    for capo in 0..=5 {
        for chord in every_chord() {
            let shapes = vamp_shapes(&chord, capo);
            assert!(!shapes.is_empty(), "{chord} at {capo}");
            for shape in &shapes {
                let notes: Vec<u8> =
                    shape.notes().iter().flatten().map(|note| note.get()).collect();
                assert_eq!(notes.len(), 3);
                assert!(shape.frets.iter().flatten().all(|&fret| (1..=22 - capo).contains(&fret)));
                assert!(within_reach(&shape.frets), "{chord} at {capo}: {shape:?}");
                assert!(notes.iter().all(|note| chord.contains(note % 12)), "{chord} {shape:?}");
                assert!(notes.iter().enumerate().all(|(i, note)| !notes[..i].contains(note)));
                let third = chord.quality.third_or_suspended().unwrap_or(7);
                let third = (chord.root.pitch_class() + third) % 12;
                assert!(notes.iter().any(|note| note % 12 == third), "{chord} {shape:?}");
            }
            // About the fifth to the twelfth fret (common practice, no source).
            let best = shapes[0].frets.iter().flatten().map(|fret| fret + capo);
            assert!(best.clone().min() >= Some(3) && best.max() <= Some(14), "{chord} {shapes:?}");
        }
    }
}

/// It rings with G and C, not with D: common practice, no source.
#[test]
fn the_short_string_is_picked_where_it_fits() {
    for chord in every_chord() {
        for capo in 0..=5 {
            let hand = BanjoHand::new(&chord, capo, Drone::Fits);
            let note = 67 + capo;
            assert_eq!(hand.fret(5), short_string_rings(&chord, capo, Drone::Fits).then_some(0));
            if let Some(fifth) = hand.note(5) {
                assert_eq!(fifth.get(), note);
                let above = (12 + note % 12 - chord.root.pitch_class()) % 12;
                assert!(chord.contains(note % 12) || [2, 9].contains(&above), "{chord} at {capo}");
            } else {
                assert!(!chord.contains(note % 12), "{chord} at {capo}");
            }
            // A roll that asks for it has a note in its place, from the thumb, on another string.
            let moments = roll(&hand, &[2, 1, 5, 2, 1, 5, 2, 1].map(Some), 480);
            let played = right_hand(&moments, 480);
            let strings: Vec<u8> = played.iter().flat_map(Plucks::iter).map(|p| p.string).collect();
            assert_eq!(strings.len(), 8);
            assert_eq!(
                strings.contains(&5),
                hand.fret(5).is_some(),
                "{chord} at {capo}: {strings:?}"
            );
        }
    }
}

#[test]
fn a_note_beside_the_chord_is_found_within_reach() {
    for (symbol, class) in [("G", 4), ("C", 9), ("D", 11), ("F", 2), ("A", 6), ("Em", 2)] {
        let hand = BanjoHand::new(&chord(symbol), 0, Drone::Fits);
        for leads in [false, true] {
            let ways = hand.note_and_strings(class, leads, std::iter::empty());
            let moment = Moment { at: 0, ways };
            let played = right_hand(&[moment], 480);
            let pick = *played[0].iter().next().unwrap();
            assert_eq!(pick.pitch(0).pitch_class(), class, "{symbol} {pick:?}");
            let mut frets = hand.shape().frets;
            let place = (0..5).find(|&place| number_at(place) == pick.string).unwrap();
            frets[place] = Some(pick.fret);
            assert!(within_reach(&frets), "{symbol} {pick:?}");
        }
    }
}

/// Something a player may be asked to pick: strings together, or a note beside the chord.
#[derive(Clone, Debug)]
enum Wish {
    Strings(Vec<u8>),
    Note(u8, bool),
    Vamp,
    Stop,
}

fn wishes() -> impl Strategy<Value = Vec<(i64, Wish)>> {
    let wish = prop_oneof![
        6 => prop::sample::subsequence(vec![1_u8, 2, 3, 4, 5], 1..=3).prop_map(Wish::Strings),
        3 => (1..=5_u8).prop_map(|string| Wish::Strings(vec![string])),
        2 => (0..12_u8, any::<bool>()).prop_map(|(class, leads)| Wish::Note(class, leads)),
        1 => Just(Wish::Vamp),
        1 => Just(Wish::Stop),
    ];
    prop::collection::vec((prop::sample::select(vec![120_i64, 240, 320, 480, 960]), wish), 1..60)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Whatever a style asks for, at any speed, over any chord: the hands can do it.
    #[test]
    fn the_hands_can_do_it(
        number in 0..372_usize,
        capo in 0..=12_u8,
        wishes in wishes(),
    ) {
        let chord = every_chord().nth(number).unwrap();
        let hand = BanjoHand::new(&chord, capo, Drone::Fits);
        let mut at = 0;
        let mut moments = Vec::new();
        for (gap, wish) in wishes {
            let ways: Vec<Way> = match wish {
                Wish::Strings(strings) => hand.strings(strings.into_iter()),
                Wish::Note(class, leads) => hand.note_and_strings(class, leads, [1].into_iter()),
                Wish::Vamp => vamp_shapes(&chord, capo.min(5))[0].pinch(Hit::Groove),
                Wish::Stop => pinch(&hand, Hit::Together),
            };
            moments.push(Moment { at, ways });
            at += gap;
        }
        let played = right_hand(&moments, 480);
        hold(&moments, &played, 480);
        // With time for each, all is played.
        let slow: Vec<Moment> =
            moments.into_iter().enumerate().map(|(i, m)| Moment { at: 960 * i as i64, ..m }).collect();
        prop_assert!(right_hand(&slow, 480).iter().all(|plucks| !plucks.is_empty()));
    }
}
