//! How hard a player strikes changes from stroke to stroke.

use super::row::{Bound, Reading, Row, worst};
use super::take::{Played, Take};

/// So many strokes of a role at least for its share to mean something.
const ENOUGH: usize = 40;

/// How many strokes of a role are exactly as loud as the one before: fewer than a fifth. A stroke is as
/// loud as its loudest note. Common practice, no source.
pub fn same_velocity(takes: &[Take]) -> Row {
    let name = "strokes of a role exactly as loud as the one before";
    worst(name, " %", Bound::Below(20.0), 5000, takes, |take| {
        let read = |part: &Played| {
            let pairs: Vec<bool> = part
                .strokes
                .windows(2)
                .map(|pair| pair[0].velocity() == pair[1].velocity())
                .collect();
            let same = pairs.iter().filter(|same| **same).count();
            let (start, longest) = longest_run(&pairs);
            (pairs.len() >= ENOUGH).then(|| Reading {
                value: 100.0 * same as f64 / pairs.len() as f64,
                looked: pairs.len(),
                bar: take.sheet.bars[part.strokes[start].bar].number,
                what: format!("{}, {} in a row", part.role, longest + 1),
            })
        };
        take.parts.iter().filter_map(read).collect()
    })
}

/// Where the longest run of true begins, and how long it is.
fn longest_run(pairs: &[bool]) -> (usize, usize) {
    let (mut best, mut start) = ((0, 0), 0);
    for (index, same) in pairs.iter().enumerate() {
        if !same {
            start = index + 1;
        } else if index + 1 - start > best.1 {
            best = (start, index + 1 - start);
        }
    }
    best
}
