use std::collections::HashMap;

use super::Shape;
use crate::trellis::{Trellis, least_path};

/// Picks a shape for each chord of a sequence so that shapes lie well and the hand moves as little as
/// it can: the least sum of every shape's own cost and of the movement between neighbours.
/// `candidates` holds the shapes of each distinct chord; `sequence` says which chord comes when.
/// Gives, for each place of the sequence, an index into its chord's candidates. Of equal ways, the one
/// whose last shape that differs stands earlier among the candidates.
///
/// A chord without candidates, or an index past their end, breaks the way: its place gets 0, and the
/// next begins afresh. Time is linear in the sequence.
pub fn least_movement<S: Shape>(candidates: &[Vec<S>], sequence: &[usize]) -> Vec<usize> {
    let shapes = |chord: usize| candidates.get(chord).map_or(&[][..], Vec::as_slice);
    let mut tables = Tables::default();
    let mut chosen = Vec::with_capacity(sequence.len());
    for part in sequence.chunk_by(|&a, &b| !shapes(a).is_empty() && !shapes(b).is_empty()) {
        let row: Vec<&[S]> = part.iter().map(|&chord| shapes(chord)).collect();
        let pairs = part.iter().zip(part.iter().skip(1));
        let moves = pairs.map(|(&from, &to)| tables.number(from, to, shapes)).collect();
        let way = least_path(&Row { shapes: row, moves, tables: &tables });
        chosen.extend(way.map_or_else(|| vec![0; part.len()], |way| way.states));
    }
    chosen
}

/// What it takes to go from the shapes of one chord to those of another, for each pair of chords that comes.
#[derive(Default)]
struct Tables {
    numbers: HashMap<(usize, usize), usize>,
    all: Vec<Vec<u16>>,
}

impl Tables {
    /// The number of a pair's table, which is made when it first comes.
    fn number<'a, S: Shape + 'a>(
        &mut self,
        from: usize,
        to: usize,
        shapes: impl Fn(usize) -> &'a [S],
    ) -> usize {
        *self.numbers.entry((from, to)).or_insert_with(|| {
            self.all.push(movements_to(shapes(to), shapes(from)));
            self.all.len() - 1
        })
    }
}

/// For each shape of `to`, the movement from every shape of `from`.
fn movements_to<S: Shape>(to: &[S], from: &[S]) -> Vec<u16> {
    let placed = |shapes: &[S]| -> Vec<(u8, S)> {
        shapes.iter().map(|shape| (shape.position(), *shape)).collect()
    };
    let (to, from) = (placed(to), placed(from));
    let movement = |(here, shape): &(u8, S), (there, other): &(u8, S)| {
        narrow(shape.movement_between(*here, other, *there))
    };
    to.iter().flat_map(|to| from.iter().map(|from| movement(from, to))).collect()
}

/// Costs are summed in 16 bits, which a processor adds many of at once; those of shapes as they are made stay
/// below 200.
fn narrow(cost: u32) -> u16 {
    u16::try_from(cost).unwrap_or(u16::MAX)
}

/// Chords in a row, each with shapes.
struct Row<'a, S> {
    shapes: Vec<&'a [S]>,
    /// The number of the table that leads to each but the first.
    moves: Vec<usize>,
    tables: &'a Tables,
}

impl<S: Shape> Trellis for Row<'_, S> {
    type Cost = u16;

    fn layers(&self) -> usize {
        self.shapes.len()
    }

    fn states(&self, layer: usize) -> usize {
        self.shapes.get(layer).map_or(0, |shapes| shapes.len())
    }

    fn own(&self, layer: usize, state: usize) -> u16 {
        let shape = self.shapes.get(layer).and_then(|shapes| shapes.get(state));
        shape.map_or(0, |shape| narrow(shape.cost()))
    }

    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[u16],
    ) -> impl Iterator<Item = (usize, u16)> {
        let table = layer.checked_sub(1).and_then(|layer| self.moves.get(layer));
        let table = table.and_then(|number| self.tables.all.get(*number));
        let start = state * before.len();
        let row = table.and_then(|table| table.get(start..start + before.len()));
        let sums = before.iter().zip(row.unwrap_or_default());
        sums.map(|(sum, movement)| sum.saturating_add(*movement)).enumerate()
    }
}
