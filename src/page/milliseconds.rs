/// The axis of early and late: from so many milliseconds early to as many late.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Axis {
    /// Where it ends on either side.
    pub most: f64,
}

/// Axes end at a multiple of this.
const STEP: f64 = 20.0;
/// No axis is shorter: what is small must look small.
const SHORTEST: f64 = 40.0;
/// None is longer: what lies farther out is no question of milliseconds.
const LONGEST: f64 = 160.0;
/// The share of the strokes that lie within the axis.
const WITHIN: f64 = 0.95;

impl Axis {
    /// For these strokes.
    pub fn of(late: impl Iterator<Item = f64>) -> Self {
        let mut sizes: Vec<f64> = late.filter(|late| late.is_finite()).map(f64::abs).collect();
        sizes.sort_by(f64::total_cmp);
        let last = (sizes.len() as f64 * WITHIN).ceil() as usize;
        let size = sizes.get(last.saturating_sub(1)).copied().unwrap_or(0.0);
        Self { most: ((size / STEP).ceil() * STEP).clamp(SHORTEST, LONGEST) }
    }

    /// Where something lies, from 0 for the earliest to 1 for the latest; what lies farther out is at the end.
    pub fn place(self, late: f64) -> f64 {
        let late = if late.is_finite() { late } else { 0.0 };
        (late / self.most).clamp(-1.0, 1.0).mul_add(0.5, 0.5)
    }

    /// True if it lies farther out than the axis goes.
    pub fn is_beyond(self, late: f64) -> bool {
        late.abs() > self.most
    }
}

/// `12 ms early`, `on the beat`.
pub(super) fn early_or_late(late: f64) -> String {
    let late = if late.is_finite() { late.round() } else { 0.0 };
    if late == 0.0 {
        "0 ms".to_owned()
    } else {
        format!("{:.0} ms {}", late.abs(), if late < 0.0 { "early" } else { "late" })
    }
}

/// Which side of the beat it lies on, or neither as far as anybody hears: the class that colours it.
pub(super) fn side(late: f64, least_heard: f64) -> &'static str {
    if late < -least_heard {
        "early"
    } else if late > least_heard {
        "late"
    } else {
        "even"
    }
}

/// A length in percent, as SVG takes it.
pub(super) fn percent(share: f64) -> String {
    let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
    format!("{:.2}%", share * 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_holds_nearly_all() {
        let axis = Axis::of([3.0, -17.0, 61.0].into_iter());
        assert_eq!(axis.most, 80.0);
        assert_eq!(Axis::of(std::iter::empty()).most, 40.0);
        let wild = (0..100).map(|at| if at == 0 { 5000.0 } else { 30.0 });
        assert_eq!(Axis::of(wild).most, 40.0);
        assert_eq!((axis.place(-80.0), axis.place(0.0), axis.place(400.0)), (0.0, 0.5, 1.0));
        assert!(axis.is_beyond(-81.0) && !axis.is_beyond(80.0));
        assert_eq!(axis.place(f64::NAN), 0.5);
    }

    #[test]
    fn words_for_both_sides() {
        assert_eq!(early_or_late(-12.4), "12 ms early");
        assert_eq!(early_or_late(0.3), "0 ms");
        assert_eq!(early_or_late(8.0), "8 ms late");
    }
}
