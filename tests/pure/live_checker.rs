//! What measures live playing sees what can go wrong with it.

use crate::playing::checker::{Checker, Expected, Found};

const MILLI: i64 = 1_000_000;

/// A note of 90 ms each tenth of a second, up a scale and again, ten notes long.
fn scale() -> Vec<Expected> {
    let note = |n: i64| {
        let pitch = 40 + (n % 5) as u8;
        let on = Expected { at: n * 100 * MILLI, bytes: [0x90, pitch, 80] };
        [on, Expected { at: on.at + 90 * MILLI, bytes: [0x80, pitch, 64] }]
    };
    (0..10).flat_map(note).collect()
}

fn found(change: impl FnOnce(&mut Vec<Expected>)) -> (Found, Vec<i64>) {
    let mut checker = Checker::new(scale());
    let mut heard = scale();
    change(&mut heard);
    for it in heard {
        checker.hear(it.at, it.bytes);
    }
    checker.end()
}

const WELL: Found =
    Found { heard: 20, lost: 0, doubled: 0, strange: 0, out_of_order: 0, sounding: 0 };

#[test]
fn what_comes_as_it_should_is_well() {
    assert_eq!(found(|_| {}), (WELL, vec![0; 20]));
    let late = |heard: &mut Vec<Expected>| heard[7].at += MILLI;
    let (all, off) = found(late);
    assert_eq!((all, off[7], off.iter().sum::<i64>()), (WELL, MILLI, MILLI));
}

#[test]
fn what_is_lost_is_missed() {
    let (all, off) = found(|heard| {
        heard.remove(5);
    });
    assert_eq!(all, Found { heard: 19, lost: 1, sounding: 1, ..WELL });
    assert_eq!(off.len(), 19);
    let (all, _) = found(|heard| heard.truncate(17));
    assert_eq!(all, Found { heard: 17, lost: 3, sounding: 1, ..WELL });
}

#[test]
fn what_comes_twice_is_doubled() {
    let (all, off) = found(|heard| heard.insert(4, heard[3]));
    assert_eq!((all, off), (Found { heard: 21, doubled: 1, ..WELL }, vec![0; 20]));
}

#[test]
fn what_nobody_was_to_send_is_strange() {
    let bytes = [0x90, 99, 80];
    let (all, _) = found(|heard| heard.insert(4, Expected { at: heard[4].at, bytes }));
    assert_eq!(all, Found { heard: 21, strange: 1, sounding: 1, ..WELL });
}

#[test]
fn what_comes_before_its_turn_is_out_of_order() {
    let (all, off) = found(|heard| heard.swap(8, 9));
    assert_eq!(all, Found { out_of_order: 1, sounding: 1, ..WELL });
    assert_eq!(off, vec![0; 20], "each at its own time all the same");
}
