use crate::time::Nanos;

/// A gap this long begins a new tapping: one beat at the slowest tempo a foot still taps, 24 a minute.
const NEW_TAPPING: i64 = 2_500_000_000;

/// Taps that count: two bars of four.
const MOST: usize = 8;

/// Beats tapped by hand or foot.
#[derive(Clone, Debug, Default)]
pub(super) struct Taps {
    times: Vec<Nanos>,
}

impl Taps {
    /// One more tap. The tempo in beats a minute from the third on: two gaps are the least that tell
    /// a tempo from a slip.
    pub fn tap(&mut self, now: Nanos) -> Option<f64> {
        if self.times.last().is_some_and(|last| now.0.saturating_sub(last.0) > NEW_TAPPING) {
            self.times.clear();
        }
        if self.times.len() == MOST {
            self.times.remove(0);
        }
        self.times.push(now);
        let mut gaps: Vec<i64> = self.times.windows(2).filter_map(gap).collect();
        if gaps.len() < 2 {
            return None;
        }
        // The middle one: a single slip of the foot changes nothing.
        gaps.sort_unstable();
        let middle = gaps.len() / 2;
        let gap = if gaps.len() % 2 == 1 {
            *gaps.get(middle)?
        } else {
            (gaps.get(middle)? + gaps.get(middle - 1)?) / 2
        };
        (gap > 0).then(|| 60e9 / gap as f64)
    }
}

fn gap(pair: &[Nanos]) -> Option<i64> {
    match pair {
        [before, after] => Some(after.0.saturating_sub(before.0)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_taps_make_a_tempo_and_a_slip_does_not_unmake_it() {
        let mut taps = Taps::default();
        let beat = 500_000_000;
        assert_eq!(taps.tap(Nanos(0)), None);
        assert_eq!(taps.tap(Nanos(beat)), None);
        assert_eq!(taps.tap(Nanos(2 * beat)), Some(120.0));
        taps.tap(Nanos(3 * beat + 200_000_000));
        assert_eq!(taps.tap(Nanos(4 * beat)), Some(120.0));
        // After a pause, the old taps are forgotten.
        assert_eq!(taps.tap(Nanos(20 * beat)), None);
        assert_eq!(taps.tap(Nanos(22 * beat)), None);
        assert_eq!(taps.tap(Nanos(24 * beat)), Some(60.0));
        assert_eq!(taps.tap(Nanos(24 * beat)), Some(60.0), "two at once are no tempo of their own");
    }
}
