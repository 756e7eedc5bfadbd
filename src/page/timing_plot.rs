use std::collections::HashMap;

use maud::{Markup, html};

use super::milliseconds::{Axis, early_or_late, percent, side};
use crate::coverage::BeatPart;
use crate::review::Review;

/// Pixels from the earliest to the latest.
const HEIGHT: f64 = 200.0;
/// Pixels above it, for the numbers of the passes.
const ABOVE: f64 = 18.0;
/// Pixels under it, for the numbers of the bars.
const BELOW: f64 = 18.0;
/// Numbers of bars under the plot at most: so many stand apart on a phone.
const MOST_NUMBERS: usize = 9;

/// A number that begins farther to the right would reach over the edge.
const LAST_NUMBER: f64 = 0.92;

/// Every stroke over the bars of the song: early above the line, late under it.
pub(super) fn timing_plot(review: &Review, axis: Axis, least_heard: f64) -> Markup {
    let bars = review.bars.len().max(1) as f64;
    let index: HashMap<usize, usize> =
        review.bars.iter().enumerate().map(|(at, bar)| (bar.number, at)).collect();
    let across = |bar: usize, place: f64| {
        let at = index.get(&bar).copied()? as f64;
        Some((at + place.clamp(0.0, 1.0)) / bars)
    };
    // Early is above: the y of SVG grows downward, as lateness does here.
    let y = |late: f64| ABOVE + axis.place(late) * HEIGHT;
    let whole = ABOVE + HEIGHT + BELOW;
    html! {
        div.plot {
            svg.scale width="88" height=(whole) aria-hidden="true" {
                text x="82" y=(ABOVE + 10.0) text-anchor="end" { (mark(axis.most)) " early" }
                text x="82" y=(ABOVE + HEIGHT / 2.0 + 4.0) text-anchor="end" { "0 ms" }
                text x="82" y=(ABOVE + HEIGHT - 2.0) text-anchor="end" { (mark(axis.most)) " late" }
            }
            svg.field width="100%" height=(whole) role="img" aria-label=(told(review)) {
                @for (at, pass) in review.passes.iter().enumerate() {
                    @if let (Some(from), Some(to)) = (across(pass.bars.0, 0.0), across(pass.bars.1, 1.0)) {
                        rect class=(if at % 2 == 0 { "pass" } else { "pass other" }) x=(percent(from))
                            y=(ABOVE) width=(percent(to - from)) height=(HEIGHT) {}
                        text x=(percent((from + to) / 2.0)) y="12" text-anchor="middle" { (at + 1) }
                    }
                }
                rect.unheard x="0" y=(y(-least_heard)) width="100%" height=(y(least_heard) - y(-least_heard)) {}
                line.grid x1="0" x2="100%" y1=(y(0.0)) y2=(y(0.0)) {}
                @for pass in &review.passes {
                    @if let (Some(from), Some(to)) = (across(pass.bars.0, 0.0), across(pass.bars.1, 1.0)) {
                        @let mean = y(pass.figures.timing.mean);
                        line.mean x1=(percent(from)) x2=(percent(to)) y1=(mean) y2=(mean) {}
                    }
                }
                @for hit in &review.hits {
                    @if let Some(x) = across(hit.bar, hit.place) {
                        use href=(shape(hit.part)) class=(side(hit.late, least_heard)) x=(percent(x))
                            y=(format!("{:.1}", y(hit.late))) {}
                    }
                }
                @for (number, x) in numbers(review) {
                    line.tick x1=(percent(x)) x2=(percent(x)) y1=(ABOVE + HEIGHT) y2=(ABOVE + HEIGHT + 4.0) {}
                    text x=(percent(x)) dx="2" y=(whole - 3.0) { (number) }
                }
            }
        }
        p.key {
            @for part in BeatPart::ALL {
                span { svg.sign width="12" height="12" aria-hidden="true" { use href=(shape(part)) x="6" y="6" {} } (part) }
            }
            span { span.swatch.unheard {} "nobody hears this" }
            span { span.swatch.mean {} "average of the pass" }
        }
    }
}

/// What stands for a part of the beat.
const fn shape(part: BeatPart) -> &'static str {
    match part {
        BeatPart::Down => "#dot",
        BeatPart::Back => "#box",
        BeatPart::And => "#wedge",
    }
}

fn mark(most: f64) -> String {
    format!("{most:.0} ms")
}

/// The bars whose numbers stand under the plot, and where each begins.
fn numbers(review: &Review) -> Vec<(usize, f64)> {
    let count = review.bars.len();
    let step = [1, 2, 4, 8, 16, 32, 64, 128].into_iter().find(|step| count <= step * MOST_NUMBERS);
    let step = step.unwrap_or(count.div_ceil(MOST_NUMBERS)).max(1);
    let at = review.bars.iter().enumerate().step_by(step);
    let at = at.map(|(at, bar)| (bar.number, at as f64 / count.max(1) as f64));
    at.filter(|(_, x)| *x <= LAST_NUMBER).collect()
}

/// The plot for those who don't see it.
fn told(review: &Review) -> String {
    let passes: Vec<String> = review
        .passes
        .iter()
        .map(|pass| format!("{}: {}", pass.label, early_or_late(pass.figures.timing.mean)))
        .collect();
    format!(
        "{} strokes over {} bars, early above the line and late under it. On average {}",
        review.hits.len(),
        review.bars.len(),
        if passes.is_empty() { early_or_late(review.whole.timing.mean) } else { passes.join("; ") }
    )
}
