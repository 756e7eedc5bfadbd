use std::collections::HashMap;

use maud::{Markup, html};

use super::figures::bars as bar_numbers;
use super::milliseconds::{Axis, percent, side};
use crate::coverage::Singing;
use crate::review::{BarReview, HitReview, PassReview, Review, Tone};

/// Pixels from the earliest to the latest in a bar.
const HEIGHT: f64 = 40.0;
/// Pixels above and under it, so that no sign is cut.
const EDGE: f64 = 5.0;
/// Where a bar begins and ends in its cell, so that no sign is cut.
const SIDES: (f64, f64) = (0.05, 0.95);
/// More open places than this are given as a number alone.
const MOST_PLACES: usize = 16;

/// Every bar of the take with its chords, its job, which open places were filled, and each stroke: in rows,
/// under the name of its pass.
pub(super) fn bar_strip(review: &Review, axis: Axis, least_heard: f64) -> Markup {
    let mut hits: HashMap<usize, Vec<&HitReview>> = HashMap::new();
    for hit in &review.hits {
        hits.entry(hit.bar).or_default().push(hit);
    }
    let cells = |bars: &[&BarReview]| {
        html! {
            ol.bars {
                @for bar in bars {
                    (cell(bar, hits.get(&bar.number).map_or(&[], Vec::as_slice), axis, least_heard))
                }
            }
        }
    };
    let of = |pass: &PassReview| -> Vec<&BarReview> {
        review.bars.iter().filter(|bar| (pass.bars.0..=pass.bars.1).contains(&bar.number)).collect()
    };
    let in_pass = |bar: &BarReview| {
        review.passes.iter().any(|pass| (pass.bars.0..=pass.bars.1).contains(&bar.number))
    };
    let rest: Vec<&BarReview> = review.bars.iter().filter(|bar| !in_pass(bar)).collect();
    html! {
        p.key {
            @for (tone, words) in TONES {
                span { svg.sign width="12" height="12" aria-hidden="true" { use href=(shape(tone)) x="6" y="6" {} } (words) }
            }
            span { span.places { i.filled {} } "played" }
            span { span.places { i {} } "left open" }
        }
        @for (at, pass) in (1..).zip(&review.passes) {
            h3 { (at) " " (pass.label) " " small { (bar_numbers(pass.bars)) } }
            (cells(&of(pass)))
        }
        @if !rest.is_empty() {
            h3 { "The other bars" }
            (cells(&rest))
        }
    }
}

fn cell(bar: &BarReview, hits: &[&HitReview], axis: Axis, least_heard: f64) -> Markup {
    let y = |late: f64| axis.place(late).mul_add(HEIGHT, EDGE);
    let x = |place: f64| place.clamp(0.0, 1.0).mul_add(SIDES.1 - SIDES.0, SIDES.0);
    let sung = bar.singing == Singing::Sings;
    html! {
        li {
            p.chords { span.number { (bar.number) } b { (bar.chords.join(" ")) } }
            svg.field width="100%" height=(HEIGHT + 2.0 * EDGE) aria-hidden="true" {
                rect.unheard x="0" y=(format!("{:.1}", y(-least_heard))) width="100%"
                    height=(format!("{:.1}", y(least_heard) - y(-least_heard))) {}
                line.grid x1="0" x2="100%" y1=(y(0.0)) y2=(y(0.0)) {}
                @for hit in hits {
                    use href=(shape(hit.tone)) class=(side(hit.late, least_heard)) x=(percent(x(hit.place)))
                        y=(format!("{:.1}", y(hit.late))) {}
                }
            }
            p.job { (bar.job) @if sung { span.sung { " sung" } } }
            p.filling {
                @if bar.open > 0 {
                    @if bar.open <= MOST_PLACES {
                        span.places aria-hidden="true" {
                            @for at in 0..bar.open { i.filled[at < bar.covered] {} }
                        }
                    }
                    span { (bar.covered) " of " (bar.open) }
                }
            }
        }
    }
}

const TONES: [(Tone, &str); 5] = [
    (Tone::Chord, "of the chord"),
    (Tone::Sixth, "the added sixth"),
    (Tone::Anticipation, "leads to the next chord"),
    (Tone::Outside, "outside the chord"),
    (Tone::Unknown, "not made out"),
];

const fn shape(tone: Tone) -> &'static str {
    match tone {
        Tone::Chord => "#dot",
        Tone::Sixth => "#lozenge",
        Tone::Anticipation => "#arrow",
        Tone::Outside => "#cross",
        Tone::Unknown => "#ring",
    }
}
