use std::collections::HashMap;

use super::Shape;

/// Picks a shape for each chord of a sequence so that shapes lie well and the hand moves as little as
/// it can: the least sum of every shape's own cost and of the movement between neighbours (Viterbi
/// 1967). `candidates` holds the shapes of each distinct chord; `sequence` says which chord comes when.
/// Gives, for each place of the sequence, an index into its chord's candidates. Of equal ways, the one
/// whose last shape that differs stands earlier among the candidates.
///
/// A chord without candidates, or an index past their end, breaks the way: its place gets 0, and the
/// next begins afresh. Time is linear in the sequence.
pub fn least_movement<S: Shape>(candidates: &[Vec<S>], sequence: &[usize]) -> Vec<usize> {
    let shapes = |chord: usize| candidates.get(chord).map_or(&[][..], Vec::as_slice);
    let mut ways = Ways::new(sequence.len());
    let mut last: &[S] = &[];
    let mut last_chord = usize::MAX;
    let mut tables = HashMap::new();
    for &chord in sequence {
        let here = shapes(chord);
        if last.is_empty() || here.is_empty() {
            ways.begin(here);
        } else {
            let moves =
                tables.entry((last_chord, chord)).or_insert_with(|| movements_to(here, last));
            ways.go_on(here, moves);
        }
        (last, last_chord) = (here, chord);
    }
    ways.trace_back(sequence, |from, to| tables.get(&(from, to)).map_or(&[], Vec::as_slice))
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

/// Costs are summed in 16 bits, which a processor adds many of at once. Sums are kept small by taking
/// the least of each place away from all of it; those of shapes as they are made stay below 200.
fn narrow(cost: u32) -> u16 {
    u16::try_from(cost).unwrap_or(u16::MAX)
}

/// The least sum of a way from its beginning to each shape of each place.
struct Ways {
    /// Place after place, a sum for each shape, less the least of the place.
    sums: Vec<u16>,
    /// Where each place begins in `sums`, and whether the hand comes there from the place before.
    places: Vec<(usize, bool)>,
}

impl Ways {
    fn new(places: usize) -> Self {
        Self { sums: Vec::new(), places: Vec::with_capacity(places) }
    }

    /// A place that the hand comes to from nowhere.
    fn begin(&mut self, shapes: &[impl Shape]) {
        self.places.push((self.sums.len(), false));
        self.sums.extend(shapes.iter().map(|shape| narrow(shape.cost())));
    }

    /// A place that the hand comes to by `moves` from the one before.
    fn go_on(&mut self, shapes: &[impl Shape], moves: &[u16]) {
        let start = self.sums.len();
        let before = self.places.last().map_or(start, |(before, _)| *before)..start;
        self.places.push((start, true));
        // Both places have shapes, so neither row is empty.
        for (shape, row) in shapes.iter().zip(moves.chunks_exact(before.len().max(1))) {
            let from = self.sums.get(before.clone()).unwrap_or_default();
            let sums = from.iter().zip(row).map(|(sum, movement)| sum.saturating_add(*movement));
            let least = sums.fold(u16::MAX, u16::min);
            self.sums.push(least.saturating_add(narrow(shape.cost())));
        }
        let here = self.sums.get_mut(start..).unwrap_or_default();
        let least = here.iter().copied().fold(u16::MAX, u16::min);
        here.iter_mut().for_each(|sum| *sum -= least);
    }

    /// The shapes of the least way, found from its end: of each place the shape from which the one after
    /// it is reached at the least sum.
    fn trace_back<'a>(
        &self,
        sequence: &[usize],
        moves: impl Fn(usize, usize) -> &'a [u16],
    ) -> Vec<usize> {
        let mut chosen = vec![0; sequence.len()];
        let mut end = self.sums.len();
        // The chord and shape that come after, if the hand goes there from here.
        let mut after = None;
        let places = sequence.iter().zip(&self.places).zip(&mut chosen);
        for ((&chord, &(start, linked)), chosen) in places.rev() {
            let sums = self.sums.get(start..end).unwrap_or_default();
            let row = after.and_then(|(next, shape): (usize, usize)| {
                moves(chord, next).chunks_exact(sums.len().max(1)).nth(shape)
            });
            let least = match row {
                Some(row) => {
                    let sums = sums.iter().zip(row);
                    first_least(sums.map(|(sum, movement)| sum.saturating_add(*movement)))
                }
                None => first_least(sums.iter().copied()),
            };
            *chosen = least;
            after = linked.then_some((chord, least));
            end = start;
        }
        chosen
    }
}

/// The first index of the least; 0 of none.
fn first_least(sums: impl Iterator<Item = u16>) -> usize {
    sums.enumerate().min_by_key(|(_, sum)| *sum).map_or(0, |(index, _)| index)
}
