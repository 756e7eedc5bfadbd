use maud::{Markup, html};

use super::milliseconds::early_or_late;
use crate::review::{Figures, Review, TimingReference, Tones};

/// What is said where nothing was counted.
const NOTHING: &str = "–";

/// The whole take in a handful of numbers.
pub(super) fn tiles(review: &Review, least_heard: f64) -> Markup {
    let whole = &review.whole;
    let timing = &whole.timing;
    html! {
        dl.tiles {
            (tile("Open chair covered", &filled(whole), "of what it left open"))
            @match review.against {
                TimingReference::Band => (tile("Early or late", &early_or_late(timing.mean), &heard(timing.mean, least_heard))),
                TimingReference::Fit => (tile("Early or late", NOTHING, "on average; not known without a count-in")),
                TimingReference::Own => (tile("Early or late", NOTHING, "on average; your beat is not the band's")),
            }
            (tile("Even to", &format!("{:.0} ms", sound(timing.spread)), &format!("the band's own: {:.0} ms", sound(timing.band_spread))))
            (tile("Your beat", &pace(timing.rushing), "against the band's"))
            (tile("Notes of the chord", &in_chord(&whole.tones), &tones(&whole.tones)))
            (tile("Strokes in a bar", &busy(whole.busy.sung), &beside(whole)))
        }
    }
}

fn tile(name: &str, number: &str, more: &str) -> Markup {
    html! { div { dt { (name) } dd { strong { (number) } " " small { (more) } } } }
}

/// The passes and the whole, a row each.
pub(super) fn table(review: &Review) -> Markup {
    html! {
        table.figures {
            caption.unseen { "Figures of each pass and of all" }
            thead {
                tr {
                    th scope="col" { "Pass" }
                    th scope="col" { "Covered" }
                    th scope="col" { "Early or late" }
                    th scope="col" { "Even to" }
                    th scope="col" { "Your beat" }
                    th scope="col" { "In the chord" }
                }
            }
            tbody {
                @for (at, pass) in (1..).zip(&review.passes) {
                    (row(&html! { b { (at) } " " (pass.label) " " small { (bars(pass.bars)) } }, &pass.figures))
                }
                (row(&html! { b { "all" } }, &review.whole))
            }
        }
    }
}

fn row(name: &Markup, figures: &Figures) -> Markup {
    html! {
        tr {
            th scope="row" { (name) }
            td { (filled(figures)) }
            td { (early_or_late(figures.timing.mean)) }
            td { (format!("{:.0} ms", sound(figures.timing.spread))) }
            td { (pace(figures.timing.rushing)) }
            td { (in_chord(&figures.tones)) }
        }
    }
}

/// `bars 5 to 12`, `bar 5`.
pub(super) fn bars((first, last): (usize, usize)) -> String {
    if first == last { format!("bar {first}") } else { format!("bars {first} to {last}") }
}

fn sound(number: f64) -> f64 {
    if number.is_finite() { number } else { 0.0 }
}

fn share(part: usize, of: usize) -> String {
    if of == 0 { NOTHING.to_owned() } else { format!("{part} of {of}") }
}

fn filled(figures: &Figures) -> String {
    share(figures.covered, figures.open)
}

fn in_chord(tones: &Tones) -> String {
    let sounds = tones.chord + tones.sixth + tones.anticipation;
    share(sounds, sounds + tones.outside)
}

fn tones(tones: &Tones) -> String {
    let mut parts = vec![format!("{} of another chord", tones.outside)];
    let rest = [
        (tones.sixth, "sixths"),
        (tones.anticipation, "leading into the next"),
        (tones.unknown, "not made out"),
    ];
    parts.extend(
        rest.into_iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, what)| format!("{count} {what}")),
    );
    parts.join(", ")
}

fn heard(late: f64, least_heard: f64) -> String {
    if sound(late).abs() <= least_heard { "nobody hears that" } else { "on average" }.to_owned()
}

/// Less than this is not shown as a tendency, in percent: a beat in two thousand.
const LEAST_PACE: f64 = 0.05;

/// How far a beat that goes so many percent faster comes off, as a player would count it.
fn pace(rushing: f64) -> String {
    let rushing = sound(rushing);
    if rushing.abs() < LEAST_PACE {
        "the same".to_owned()
    } else {
        let way = if rushing > 0.0 { "ahead" } else { "behind" };
        format!("a beat {way} after {:.0}", (100.0 / rushing.abs()).max(1.0))
    }
}

fn busy(strokes: Option<f64>) -> String {
    strokes.map_or_else(|| NOTHING.to_owned(), |strokes| format!("{:.1}", sound(strokes)))
}

fn beside(whole: &Figures) -> String {
    let (pauses, others) = (busy(whole.busy.pauses), busy(whole.busy.others));
    format!("while somebody sings; {pauses} in the pauses, {others} elsewhere")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_counted_and_nothing_is_a_dash() {
        assert_eq!(share(2, 3), "2 of 3");
        assert_eq!(share(0, 0), NOTHING);
        assert_eq!(pace(-0.04), "the same");
        assert_eq!(pace(1.96), "a beat ahead after 51");
        assert_eq!(pace(-2.5), "a beat behind after 40");
        assert_eq!(pace(f64::NAN), "the same");
    }
}
