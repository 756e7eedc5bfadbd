/// How far apart the frets may lie that a hand holds at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reach {
    /// Frets between the lowest and the highest finger, anywhere on the neck.
    pub anywhere: u8,
    /// The same where the frets lie closer together,
    pub higher: u8,
    /// which is when the lowest finger is at this fret or above.
    pub higher_from: u8,
}

impl Reach {
    /// True if one hand can stop both frets (neither of them open).
    pub const fn spans(&self, lowest: u8, highest: u8) -> bool {
        let span = highest.saturating_sub(lowest);
        span <= self.anywhere || (lowest >= self.higher_from && span <= self.higher)
    }

    /// True if a hand can hold the shape: near enough together, and with four fingers.
    pub fn holds(&self, frets: &[Option<u8>]) -> bool {
        let Some((lowest, highest)) = stopped_range(frets) else { return true };
        self.spans(lowest, highest) && fingers(frets) <= 4
    }
}

/// The lowest and highest fret that a finger stops; `None` if all strings are open or silent.
pub(super) fn stopped_range(frets: &[Option<u8>]) -> Option<(u8, u8)> {
    let stopped = || frets.iter().flatten().copied().filter(|&fret| fret > 0);
    Some((stopped().min()?, stopped().max()?))
}

/// How many fingers a shape takes. The first finger may lie across all strings that are stopped at the
/// lowest fret, if no string between them rings open.
pub fn fingers(frets: &[Option<u8>]) -> usize {
    let stopped = frets.iter().flatten().filter(|&&fret| fret > 0).count();
    match barre(frets) {
        Some(strings) => stopped + 1 - strings,
        None => stopped,
    }
}

/// How many strings the first finger stops at once, if it must lie across more than one.
pub(super) fn barre(frets: &[Option<u8>]) -> Option<usize> {
    let (lowest, _) = stopped_range(frets)?;
    let at_lowest = |fret: &Option<u8>| *fret == Some(lowest);
    let first = frets.iter().position(at_lowest)?;
    let last = frets.iter().rposition(at_lowest)?;
    let across = frets.get(first..=last)?;
    let strings = across.iter().filter(|fret| at_lowest(fret)).count();
    (strings > 1 && !across.contains(&Some(0))).then_some(strings)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shape(text: &str) -> Vec<Option<u8>> {
        text.chars().map(|c| c.to_digit(10).map(|fret| fret as u8)).collect()
    }

    #[test]
    fn fingers_are_counted_as_a_hand_lays_them() {
        // Common practice, no source: how these guitar shapes are held.
        for (text, count) in [
            ("x32010", 3),
            ("320003", 3),
            // One finger across, though many use two.
            ("022000", 1),
            ("133211", 4),
            ("x24442", 4),
            ("x21202", 4),
            ("244222", 3),
            // The open string in the middle leaves no room for a barre.
            ("204222", 5),
            ("000000", 0),
        ] {
            assert_eq!(fingers(&shape(text)), count, "{text}");
        }
    }

    #[test]
    fn a_hand_spans_more_where_frets_are_closer() {
        let reach = Reach { anywhere: 3, higher: 4, higher_from: 6 };
        assert!(reach.spans(1, 4) && !reach.spans(1, 5) && reach.spans(6, 10));
        assert!(!reach.holds(&shape("1xxxx5")) && reach.holds(&shape("000005")));
    }
}
