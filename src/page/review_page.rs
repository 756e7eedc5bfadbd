use maud::{Markup, html};

use super::bar_strip::bar_strip;
use super::document::document;
use super::figures::{bars, table, tiles};
use super::heard::least_heard;
use super::histogram::{Counts, histogram};
use super::milliseconds::Axis;
use super::timing_plot::timing_plot;
use crate::review::{Finding, Review, TimingReference};
use crate::take::Source;
use crate::text::list;

/// Below this the page says that the take may have been laid over the song wrongly.
const SURE: f64 = 0.8;

/// A review as one HTML page that needs nothing beside it.
pub fn html(review: &Review) -> String {
    let least = least_heard(review);
    let late = || review.hits.iter().map(|hit| hit.late);
    let axis = Axis::of(late());
    let beyond = late().filter(|late| axis.is_beyond(*late)).count();
    let counts = Counts::of(late(), axis);
    let body = html! {
        (shapes())
        header {
            h1 { (review.title) }
            p.facts { (facts(review)) }
            @if review.sure < SURE {
                p.doubt {
                    "It is not sure that this take was laid over the song rightly. If the figures look wrong, check the "
                    "key and the tempo, and record against the count-in."
                }
            }
        }
        (advice(review))
        (findings(review))
        section {
            h2 { "The take in numbers" }
            (tiles(review, least))
        }
        section {
            h2 { "Early and late, bar by bar through the song" }
            p {
                "Each sign is a stroke, from the first bar at the left to the last at the right. Above the line "
                "it was early, under it late. In the shaded band, " (format!("{least:.0} ms")) " to either side, "
                "nobody hears the difference. A cloud that climbs is a player who rushes; one that sinks drags; "
                "a wide one is unsteady. Numbers at the top are the passes of the table below."
            }
            p { (against(review.against)) }
            (timing_plot(review, axis, least))
            (farther_out(beyond, axis))
        }
        section {
            h2 { "How many strokes were how early or late" }
            p {
                "One tall, narrow hill in the shaded band is a steady player. A hill to the left or right of it is "
                "a hand that is always early or late; two hills are one part of the beat early and another late."
            }
            (histogram(&counts, axis, least))
            (farther_out(beyond, axis))
        }
        section {
            h2 { "Pass by pass" }
            (table(review))
        }
        section.strip {
            h2 { "Bar by bar" }
            p {
                "For each bar its chords, what the band left for you, and how much of the open chair you covered. "
                "The signs are your strokes from the bar's beginning to its end, early above the line and late under it."
            }
            (bar_strip(review, axis, least))
        }
        footer {
            p {
                "What nobody hears: the least displacement that listeners notice in an even row of tones, by "
                "A. Friberg and J. Sundberg, “Time discrimination in a monotonic, isochronous sequence”, "
                "Journal of the Acoustical Society of America 98, 1995: 6 ms, or a fortieth of the distance between "
                "two strokes where that is more. The beat is meant as the band plays it, swing and all."
            }
        }
    };
    document(&format!("{}: your take", review.title), &body)
}

fn facts(review: &Review) -> String {
    let mut facts = vec![
        format!("Key of {}", review.key),
        review.meter.clone(),
        format!("{:.0} beats a minute", review.tempo),
    ];
    if (review.speed - 100.0).abs() > 0.05 {
        facts.push(format!("practice speed {:.0} %", review.speed));
    }
    facts.push(match review.open.as_slice() {
        [] => "nobody sits out".to_owned(),
        open => format!("open: {}", list(open, "and")),
    });
    facts.push(
        match review.source {
            Source::Midi => "heard as MIDI notes",
            Source::Sound => "heard by ear",
        }
        .to_owned(),
    );
    facts.join(" · ")
}

fn against(against: TimingReference) -> &'static str {
    match against {
        TimingReference::Band => {
            "Early and late are told against the band's beat, the song's own grid; its players stray about it a little."
        }
        TimingReference::Fit => {
            "Nothing says when the band began, so the take was laid where it fits best: early and late are told \
             against the middle of your own playing. Record against the count-in to see how you lie to the band."
        }
        TimingReference::Own => {
            "Your beat went off from the band's, so early and late are told against your own: how steady you \
             were. How far it went off is the number under “Your beat”."
        }
    }
}

fn advice(review: &Review) -> Markup {
    let advice = &review.advice;
    html! {
        section.advice {
            h2 { "Work on this next" }
            p.words { (advice.words) }
            @if let Some(loop_of) = advice.bars { p { "Where: " b { (bars(loop_of)) } ", at " b { (format!("{:.0} %", advice.speed)) } " of the tempo." } }
            @if !advice.command.is_empty() {
                p { "Type this in a terminal, or copy it:" }
                pre.command { code { (advice.command) } }
            }
            p.care {
                "A few minutes at a time, with pauses, do more than an hour on end. Keep it quiet in headphones. "
                "If a hand, an arm or an ear hurts or stays numb, stop and ask a doctor; how to hold and pick, "
                "ask a teacher."
            }
        }
    }
}

fn findings(review: &Review) -> Markup {
    let of = |good: bool| -> Vec<&Finding> {
        review.findings.iter().filter(|finding| finding.good == good).collect()
    };
    html! {
        section.findings {
            @for (good, heading, class) in [(true, "What went well", "good"), (false, "What there is to work on", "work")] {
                @let found = of(good);
                @if !found.is_empty() {
                    div {
                        h2 { (heading) }
                        ul class=(class) { @for finding in found { li { (finding.words) } } }
                    }
                }
            }
        }
    }
}

fn farther_out(beyond: usize, axis: Axis) -> Markup {
    let most = axis.most;
    html! {
        @if beyond > 0 {
            p.note {
                (beyond) (if beyond == 1 { " stroke lies" } else { " strokes lie" }) " farther out than "
                (format!("{most:.0} ms")) " and " (if beyond == 1 { "is" } else { "are" }) " drawn at the edge."
            }
        }
    }
}

/// The signs that the plots use, each about its own middle.
fn shapes() -> Markup {
    html! {
        svg.defs width="0" height="0" aria-hidden="true" {
            defs {
                circle #dot r="3" {}
                path #box d="M-3-3h6v6h-6z" {}
                path #wedge d="M0-3.8L3.6 3h-7.2z" {}
                path #lozenge d="M0-4.2L4.2 0 0 4.2-4.2 0z" {}
                path #arrow d="M-3-3.6L4 0-3 3.6z" {}
                path #cross d="M-3.2-3.2L3.2 3.2M-3.2 3.2L3.2-3.2" fill="none" stroke-width="1.8" {}
                circle #ring r="2.8" fill="none" stroke-width="1.4" {}
            }
        }
    }
}
