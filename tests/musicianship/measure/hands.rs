//! What sounds at once lies under one hand, and the hand that chops has not far to go.

use std::cell::RefCell;
use std::collections::HashMap;

use openchair::chart::Role;
use openchair::perform::Note;

use super::neck::Neck;
use super::row::{Bound, Reading, Row, share, worst};
use super::stroke::{Stroke, Way, all_spoken};
use super::take::{Played, Take};

/// After each stroke of a chop or a guitar, everything that sounds can be held by one hand: each note on
/// a string of its own, on the neck, no wider than published shapes, with four fingers. See [`Neck`].
pub fn shapes(role: Role, takes: &[Take]) -> Row {
    let neck = if role == Role::Chop { Neck::mandolin() } else { Neck::guitar() };
    let known: RefCell<HashMap<(Vec<u8>, u8), bool>> = RefCell::default();
    let name = format!("{role}: all that sounds at once under one hand");
    share(name, Bound::AtLeast(100.0), 3000, takes, |take, tally| {
        let Some(part) = take.part(role) else { return };
        let capo = if role == Role::Guitar { take.sheet.capo } else { 0 };
        each_chord(part, |stroke, pitches| {
            let key = (pitches.to_vec(), capo);
            let find = || neck.hold(pitches, capo).is_some();
            let held = *known.borrow_mut().entry(key).or_insert_with(find);
            tally.see(held, || {
                let chord = take.chord_at(stroke.at).map_or("N.C.".to_owned(), ToString::to_string);
                let what = format!("over {chord} no hand holds {}", all_spoken(pitches));
                (take.sheet.bars[stroke.bar].number, what)
            });
        });
    })
}

/// Each stroke with all that sounds once it has been struck, lowest first.
fn each_chord(part: &Played, mut look: impl FnMut(&Stroke, &[u8])) {
    let mut sounding: Vec<Note> = Vec::new();
    for stroke in &part.strokes {
        sounding.extend(&stroke.notes);
        sounding.retain(|note| note.end.get() > stroke.last_start());
        let mut pitches: Vec<u8> = sounding.iter().map(|note| note.pitch.get()).collect();
        pitches.sort_unstable();
        look(stroke, &pitches);
    }
}

/// How many frets the chopping hand moves from one chord to the next, in the mean: from the lowest fret
/// stopped to the lowest fret stopped, changes of shape alone. Common practice, no source.
pub fn movement(takes: &[Take]) -> Row {
    let neck = Neck::mandolin();
    let name = "chop: frets the hand moves at a change, in the mean";
    worst(name, " frets", Bound::Below(3.0), 500, takes, |take| {
        let Some(part) = take.part(Role::Chop) else { return Vec::new() };
        let mut places: HashMap<Vec<u8>, Option<u8>> = HashMap::new();
        let chops = part.strokes.iter().filter(|stroke| stroke.way() == Way::Down);
        let mut shapes: Vec<(usize, Vec<u8>)> =
            chops.map(|stroke| (stroke.bar, stroke.pitches())).collect();
        shapes.dedup_by(|(_, one), (_, other)| one == other);
        let mut position = |pitches: &Vec<u8>| {
            let found = || neck.hold(pitches, 0).and_then(|grip| grip.position);
            *places.entry(pitches.clone()).or_insert_with(found)
        };
        let placed: Vec<(usize, u8)> =
            shapes.iter().filter_map(|(bar, shape)| Some((*bar, position(shape)?))).collect();
        let moves: Vec<(usize, u8)> =
            placed.windows(2).map(|pair| (pair[1].0, pair[0].1.abs_diff(pair[1].1))).collect();
        let Some(&(bar, furthest)) = moves.iter().max_by_key(|(_, frets)| *frets) else {
            return Vec::new();
        };
        let sum: u32 = moves.iter().map(|(_, frets)| u32::from(*frets)).sum();
        vec![Reading {
            value: f64::from(sum) / moves.len() as f64,
            looked: moves.len(),
            bar: take.sheet.bars[bar].number,
            what: format!("{furthest} at most"),
        }]
    })
}
