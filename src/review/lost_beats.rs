use crate::trellis::{Cost, Trellis, least_path};

/// What it must gain to have lost or won a beat, in notes that fit: many more than a wrong chord or two make.
const JUMP: f64 = 16.0;

/// Where beats were lost or won: from which unit of the take on it lies how far in the song. The first entry is
/// that of unit 0; there is but one where the take stays as it was laid, at `shift`.
///
/// `units` are the take's own counts of where its units are, `beat` what may be lost at once, less than `bar` in all.
/// `value` is what a unit counts at a shift. Where it is known that the take begins at `shift`, it has to lose a beat
/// to leave it; otherwise it may begin a beat or more beside it.
pub(super) fn lost_beats(
    units: &[i64],
    (shift, known): (i64, bool),
    beat: i64,
    bar: i64,
    value: impl Fn(usize, i64) -> f64,
) -> Vec<(usize, i64)> {
    let most = (bar - 1).max(0) / beat.max(1);
    let shifts: Vec<i64> = (-most..=most).map(|beats| shift + beats * beat).collect();
    let path = least_path(&Shifts { units: units.len(), shifts: &shifts, known, value });
    let way = path.map_or_else(Vec::new, |path| path.states);
    let mut out: Vec<(usize, i64)> = Vec::new();
    for (unit, at) in way.into_iter().take(units.len()).enumerate() {
        let here = shifts.get(at).copied().unwrap_or(shift);
        if out.last().is_none_or(|last| last.1 != here) {
            out.push((unit, here));
        }
    }
    if out.is_empty() { vec![(0, shift)] } else { out }
}

/// The shifts that each unit may have; and after the last a layer that says which is meant of equals. What a unit
/// counts is a cost below nothing.
struct Shifts<'a, F> {
    units: usize,
    shifts: &'a [i64],
    known: bool,
    value: F,
}

impl<F: Fn(usize, i64) -> f64> Trellis for Shifts<'_, F> {
    type Cost = f64;

    fn layers(&self) -> usize {
        self.units + 1
    }

    fn states(&self, layer: usize) -> usize {
        if layer < self.units { self.shifts.len() } else { 1 }
    }

    fn own(&self, layer: usize, state: usize) -> f64 {
        let shift = self.shifts.get(state).filter(|_| layer < self.units);
        let beside = self.known && layer == 0 && state != self.shifts.len() / 2;
        let jump = if beside { JUMP } else { 0.0 };
        shift.map_or(0.0, |&shift| jump - (self.value)(layer, shift))
    }

    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[f64],
    ) -> impl Iterator<Item = (usize, f64)> {
        // Of ways as good as each other, at the end the one that stays as it was laid, and on the way the one without a
        // jump.
        let (stays, jump) =
            if layer < self.units { (state, JUMP) } else { (self.shifts.len() / 2, 0.0) };
        let sum = |at: usize| before.get(at).copied().unwrap_or(f64::NEVER);
        let best = (0..before.len()).reduce(|best, at| if sum(at) < sum(best) { at } else { best });
        let staying = (stays, sum(stays));
        std::iter::once(staying).chain(best.map(|best| (best, sum(best) + jump)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Units that fit at one shift, and at another from some unit on.
    fn found(from: usize, other: i64, known: bool) -> Vec<(usize, i64)> {
        let units: Vec<i64> = (0..200).collect();
        lost_beats(&units, (10, known), 2, 8, |unit, shift| {
            let right = if unit < from { 10 } else { other };
            if shift == right { 1.0 } else { 0.5 }
        })
    }

    #[test]
    fn a_lost_beat_is_found_where_it_was_lost() {
        assert_eq!(found(80, 12, false), [(0, 10), (80, 12)]);
        assert_eq!(found(80, 6, false), [(0, 10), (80, 6)]);
    }

    #[test]
    fn where_the_beginning_is_known_it_takes_a_lost_beat_to_leave_it() {
        // Laid a beat beside it, all of it is a little better, or much better.
        let found = |gain: f64| {
            let units: Vec<i64> = (0..200).collect();
            lost_beats(&units, (10, true), 2, 8, |_, shift| if shift == 12 { gain } else { 0.0 })
        };
        assert_eq!(found(0.05), [(0, 10)]);
        assert_eq!(found(0.5), [(0, 12)]);
    }

    #[test]
    fn who_keeps_with_the_bar_has_lost_none() {
        assert_eq!(found(1000, 10, false), [(0, 10)]);
        assert_eq!(found(190, 12, false), [(0, 10)], "too short to be sure");
        assert_eq!(lost_beats(&[], (3, false), 1, 4, |_, _| 0.0), [(0, 3)]);
        assert_eq!(lost_beats(&[1, 2], (3, true), 0, 0, |_, _| 1.0), [(0, 3)]);
    }
}
