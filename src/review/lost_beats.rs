/// What it must gain to have lost or won a beat, in notes that fit: many more than a wrong chord or two make.
const JUMP: f64 = 16.0;

/// Where beats were lost or won: from which unit of the take on it lies how far in the song. The first entry is
/// that of unit 0; there is but one where the take stays as it was laid, at `shift`.
///
/// `units` are the take's own counts of where its units are, `beat` what may be lost at once, less than `bar` in all.
/// `value` is what a unit counts at a shift. The best way through is found backwards from the end (Viterbi 1967,
/// IEEE Trans. Inf. Theory 13).
pub(super) fn lost_beats(
    units: &[i64],
    shift: i64,
    beat: i64,
    bar: i64,
    value: impl Fn(usize, i64) -> f64,
) -> Vec<(usize, i64)> {
    let most = (bar - 1).max(0) / beat.max(1);
    let shifts: Vec<i64> = (-most..=most).map(|beats| shift + beats * beat).collect();
    let mut sums = vec![0.0; shifts.len()];
    // For each unit and each shift, which shift the unit before had.
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(units.len());
    for unit in 0..units.len() {
        let (best, most) =
            sums.iter().copied().enumerate().fold((0, f64::NEG_INFINITY), |best, (at, sum)| {
                if sum > best.1 { (at, sum) } else { best }
            });
        let mut came = Vec::with_capacity(shifts.len());
        for (at, (sum, &shift)) in sums.iter_mut().zip(&shifts).enumerate() {
            // At the first unit nothing has been lost yet.
            let jumps = unit > 0 && most - JUMP > *sum;
            came.push(if jumps { best } else { at });
            *sum = if jumps { most - JUMP } else { *sum } + value(unit, shift);
        }
        from.push(came);
    }
    // Of ways as good as each other, the one without a jump.
    let middle = shifts.len() / 2;
    let mut at = middle;
    for (index, sum) in sums.iter().enumerate() {
        if sums.get(at).is_none_or(|best| sum > best) {
            at = index;
        }
    }
    let mut out: Vec<(usize, i64)> = Vec::new();
    for (unit, came) in from.iter().enumerate().rev() {
        let here = shifts.get(at).copied().unwrap_or(shift);
        match out.last_mut() {
            Some(last) if last.1 == here => last.0 = unit,
            _ => out.push((unit, here)),
        }
        at = came.get(at).copied().unwrap_or(at);
    }
    out.reverse();
    if let Some(first) = out.first_mut() {
        first.0 = 0;
    }
    if out.is_empty() { vec![(0, shift)] } else { out }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Units that fit at one shift, and at another from some unit on.
    fn found(from: usize, other: i64) -> Vec<(usize, i64)> {
        let units: Vec<i64> = (0..200).collect();
        lost_beats(&units, 10, 2, 8, |unit, shift| {
            let right = if unit < from { 10 } else { other };
            if shift == right { 1.0 } else { 0.5 }
        })
    }

    #[test]
    fn a_lost_beat_is_found_where_it_was_lost() {
        assert_eq!(found(80, 12), [(0, 10), (80, 12)]);
        assert_eq!(found(80, 6), [(0, 10), (80, 6)]);
    }

    #[test]
    fn who_keeps_with_the_bar_has_lost_none() {
        assert_eq!(found(1000, 10), [(0, 10)]);
        assert_eq!(found(190, 12), [(0, 10)], "too short to be sure");
        assert_eq!(lost_beats(&[], 3, 1, 4, |_, _| 0.0), [(0, 3)]);
        assert_eq!(lost_beats(&[1, 2], 3, 0, 0, |_, _| 1.0), [(0, 3)]);
    }
}
