use maud::{Markup, html};

use super::milliseconds::{Axis, percent, side};

/// Pixels of the tallest column.
const HEIGHT: f64 = 130.0;
/// Pixels above it, for its number.
const ABOVE: f64 = 18.0;
/// Pixels under the columns, for the scale.
const BELOW: f64 = 20.0;
/// Columns on either side of the beat.
const EACH_SIDE: usize = 8;

/// Strokes by how early or late they are: early to the left, late to the right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Counts {
    /// From the earliest.
    columns: Vec<usize>,
}

impl Counts {
    pub fn of(late: impl Iterator<Item = f64>, axis: Axis) -> Self {
        let mut columns = vec![0; 2 * EACH_SIDE];
        let last = columns.len() - 1;
        for late in late.filter(|late| late.is_finite()) {
            let at = (axis.place(late) * (2 * EACH_SIDE) as f64) as usize;
            if let Some(column) = columns.get_mut(at.min(last)) {
                *column += 1;
            }
        }
        Self { columns }
    }

    /// Each column: from where to where, in milliseconds, and how many.
    fn all(&self, axis: Axis) -> impl Iterator<Item = (f64, f64, usize)> {
        let wide = axis.most / EACH_SIDE as f64;
        (0_u32..).zip(&self.columns).map(move |(at, &count)| {
            let from = f64::from(at).mul_add(wide, -axis.most);
            (from, from + wide, count)
        })
    }
}

/// The columns, and the same as a table for those who don't see them.
pub(super) fn histogram(counts: &Counts, axis: Axis, least_heard: f64) -> Markup {
    let tallest = counts.columns.iter().copied().max().unwrap_or(0).max(1);
    let wide = 1.0 / counts.columns.len().max(1) as f64;
    let whole = ABOVE + HEIGHT + BELOW;
    let floor = ABOVE + HEIGHT;
    let marks = [-axis.most, -axis.most / 2.0, 0.0, axis.most / 2.0, axis.most];
    html! {
        svg.field width="100%" height=(whole) aria-hidden="true" {
            rect.unheard x=(percent(axis.place(-least_heard))) y=(ABOVE) height=(HEIGHT)
                width=(percent(axis.place(least_heard) - axis.place(-least_heard))) {}
            @for (at, (from, to, count)) in counts.all(axis).enumerate() {
                @let tall = count as f64 / tallest as f64 * HEIGHT;
                rect class={ "column " (side((from + to) / 2.0, least_heard)) } x=(percent((at as f64 + 0.06) * wide))
                    y=(format!("{:.1}", floor - tall)) width=(percent(0.88 * wide)) height=(format!("{tall:.1}")) {}
                @if count == tallest {
                    text x=(percent((at as f64 + 0.5) * wide)) y=(format!("{:.1}", floor - tall - 4.0))
                        text-anchor="middle" { (count) }
                }
            }
            line.grid x1="50%" x2="50%" y1=(ABOVE) y2=(floor) {}
            line.floor x1="0" x2="100%" y1=(floor) y2=(floor) {}
            @for at in marks {
                text x=(percent(axis.place(at))) y=(whole - 5.0) text-anchor=(anchor(at, axis)) { (scale(at)) }
            }
        }
        table.unseen {
            caption { "Strokes by how early or late they are" }
            thead { tr { th scope="col" { "From" } th scope="col" { "To" } th scope="col" { "Strokes" } } }
            tbody {
                @for (from, to, count) in counts.all(axis) {
                    tr { td { (scale(from)) } td { (scale(to)) } td { (count) } }
                }
            }
        }
    }
}

fn anchor(at: f64, axis: Axis) -> &'static str {
    if at <= -axis.most {
        "start"
    } else if at >= axis.most {
        "end"
    } else {
        "middle"
    }
}

fn scale(at: f64) -> String {
    let size = at.abs();
    match at {
        at if at < 0.0 => format!("{size} early"),
        at if at > 0.0 => format!("{size} late"),
        _ => "0 ms".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stroke_is_in_one_column() {
        let axis = Axis { most: 40.0 };
        let counts = Counts::of([-400.0, -1.0, 0.0, 4.9, 5.0, 40.0, f64::NAN].into_iter(), axis);
        assert_eq!(counts.columns, [1, 0, 0, 0, 0, 0, 0, 1, 2, 1, 0, 0, 0, 0, 0, 1]);
        let ends: Vec<(f64, f64, usize)> = counts.all(axis).collect();
        assert_eq!((ends[0], ends[8]), ((-40.0, -35.0, 1), (0.0, 5.0, 2)));
    }
}
