use maud::{Markup, html};

use super::{Anchor, Mark, Page, Run, TextKind};

/// The type: the program's own where the system has it, and then what is as wide.
const FAMILY: &str = "'DejaVu Sans Condensed', 'Liberation Sans', Arial, Helvetica, sans-serif";
/// Room between pages that stand one under the other.
const BETWEEN: f64 = 18.0;
const GREY: &str = "#555";

/// Pages as one drawing, one under the other. Nothing in it acts: words are words.
pub fn svg(title: &str, pages: &[Page]) -> String {
    let width = pages.iter().map(|page| page.width).fold(0.0, f64::max);
    let between = BETWEEN * pages.len().saturating_sub(1) as f64;
    let height: f64 = pages.iter().map(|page| page.height).sum::<f64>() + between;
    let tops = pages.iter().scan(0.0, |top, page| {
        let at = *top;
        *top += page.height + BETWEEN;
        Some(at)
    });
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {} {}", short(width), short(height)))
            width=(format!("{}pt", short(width))) height=(format!("{}pt", short(height)))
            font-family=(FAMILY) fill="#000" role="img" style="max-width:100%;height:auto" {
            title { (title) }
            @for (page, top) in pages.iter().zip(tops) {
                g transform=(format!("translate(0 {})", short(top))) {
                    rect width=(short(page.width)) height=(short(page.height)) fill="#fff" {}
                    @for mark in &page.marks { (drawn(mark)) "\n" }
                }
            }
        }
    };
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n", drawing.into_string())
}

fn drawn(mark: &Mark) -> Markup {
    match mark {
        Mark::Text { x, y, anchor, width, runs, kind } => {
            words(*x, *y, *anchor, *width, runs, *kind)
        }
        Mark::Line { from, to, thick, is_grey } => html! {
            line x1=(short(from.0)) y1=(short(from.1)) x2=(short(to.0)) y2=(short(to.1))
                stroke=(if *is_grey { GREY } else { "#000" }) stroke-width=(short(*thick)) {}
        },
        Mark::Dot { at, radius } => html! {
            circle cx=(short(at.0)) cy=(short(at.1)) r=(short(*radius)) {}
        },
    }
}

fn words(x: f64, y: f64, anchor: Anchor, width: f64, runs: &[Run], kind: TextKind) -> Markup {
    let place = match anchor {
        Anchor::Start => None,
        Anchor::Middle => Some("middle"),
        Anchor::End => Some("end"),
    };
    let class = match kind {
        TextKind::Words => None,
        TextKind::Aside => Some("aside"),
        TextKind::BarNumber => Some("bar"),
        TextKind::Chord => Some("chord"),
    };
    let mut raised = 0.0;
    let falls: Vec<f64> = runs
        .iter()
        .map(|run| {
            let fall = raised - run.rise;
            raised = run.rise;
            fall
        })
        .collect();
    html! {
        text class=[class] x=(short(x)) y=(short(y)) text-anchor=[place] fill=[kind.is_grey().then_some(GREY)]
            textLength=(short(width)) lengthAdjust="spacingAndGlyphs" {
            @for (run, fall) in runs.iter().zip(falls) {
                tspan font-size=(short(run.size)) font-weight=[run.bold.then_some("bold")]
                    dy=[(fall != 0.0).then(|| short(fall))]
                    stroke=[(run.outline > 0.0).then_some("#000")]
                    stroke-width=[(run.outline > 0.0).then(|| short(run.outline))] { (run.words) }
            }
        }
    }
}

/// To a hundredth of a point.
fn short(number: f64) -> f64 {
    (number * 100.0).round() / 100.0
}
