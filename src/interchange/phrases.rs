//! Where phrases end: a line of the chart each.

/// The usual length of a phrase, in bars (common practice, no source).
const USUAL: usize = 4;

/// The longest line that is kept as the file has it; a line of eight bars is two phrases.
const LONGEST: usize = 6;

/// For each bar of a part whether a line ends after it. `ends` is where the file has the ends of lines, `jumps` where
/// the next bar stands elsewhere on the page. `keep` takes the file's lines as they are.
pub(super) fn line_ends(ends: &[bool], jumps: &[bool], keep: bool) -> Vec<bool> {
    let count = ends.len().min(jumps.len());
    let mut out = Vec::with_capacity(count);
    let mut start = 0;
    for at in 0..count {
        let jump = jumps.get(at).copied().unwrap_or(true) || at + 1 == count;
        if !jump {
            continue;
        }
        let stretch = ends.get(start..=at).unwrap_or_default();
        out.extend(of_stretch(stretch, keep));
        start = at + 1;
    }
    out
}

/// One time through.
fn of_stretch(ends: &[bool], keep: bool) -> Vec<bool> {
    let mut own = ends.to_vec();
    if let Some(last) = own.last_mut() {
        *last = true;
    }
    if keep {
        return own;
    }
    let lines: Vec<usize> = own.split_inclusive(|end| *end).map(<[bool]>::len).collect();
    let fits = |length: &usize| (2..=LONGEST).contains(length) || *length == 2 * USUAL;
    if ends.len() <= LONGEST || lines.len() > 1 && lines.iter().all(fits) {
        // Lines of eight are cut in the middle.
        let whole = ends.len() <= LONGEST && lines.len() == 1;
        let parts = lines.iter().flat_map(|length| match length {
            8 if !whole => vec![4, 4],
            length => vec![*length],
        });
        return of_lengths(parts, ends.len());
    }
    let mut lengths = vec![USUAL; ends.len() / USUAL];
    match ends.len() % USUAL {
        0 => {}
        // A bar alone belongs to the phrase before.
        1 if !lengths.is_empty() => {
            if let Some(last) = lengths.last_mut() {
                *last += 1;
            }
        }
        rest => lengths.push(rest),
    }
    of_lengths(lengths, ends.len())
}

fn of_lengths(lengths: impl IntoIterator<Item = usize>, count: usize) -> Vec<bool> {
    let mut out = vec![false; count];
    let mut at = 0;
    for length in lengths {
        at += length;
        if let Some(end) = at.checked_sub(1).and_then(|end| out.get_mut(end)) {
            *end = true;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lengths(lines: &[usize], jumps: &[usize], keep: bool) -> Vec<usize> {
        let count = lines.iter().sum();
        let ends = of_lengths(lines.iter().copied(), count);
        let jumps = of_lengths(jumps.iter().copied(), count);
        let ends = line_ends(&ends, &jumps, keep);
        ends.split_inclusive(|end| *end).map(<[bool]>::len).collect()
    }

    #[test]
    fn a_phrase_is_a_line() {
        assert_eq!(lengths(&[4, 4], &[8], false), [4, 4]);
        assert_eq!(lengths(&[8, 8], &[16], false), [4, 4, 4, 4]);
        assert_eq!(lengths(&[8], &[8], false), [4, 4]);
        assert_eq!(lengths(&[3, 3, 3], &[9], false), [3, 3, 3]);
        assert_eq!(lengths(&[1, 1, 1, 1, 1, 1, 1, 1], &[8], false), [4, 4]);
        assert_eq!(lengths(&[13], &[13], false), [4, 4, 5]);
        assert_eq!(lengths(&[6], &[6], false), [6]);
        assert_eq!(lengths(&[16], &[8, 8], false), [4, 4, 4, 4]);
        assert_eq!(lengths(&[1, 7, 3], &[11], true), [1, 7, 3]);
    }
}
