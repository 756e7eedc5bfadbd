use maud::{Markup, html};

use super::document::document;
use crate::progress::{Entry, SongProgress};

/// Pixels from the lowest value to the highest.
const HEIGHT: f64 = 120.0;
/// Pixels above and below.
const EDGE: f64 = 18.0;

/// Takes over days as one HTML page that needs nothing beside it.
pub fn progress_html(songs: &[SongProgress]) -> String {
    let body = html! {
        header {
            h1 { "Your takes, day by day" }
            p.facts { "Each dot is a take that was reviewed, the first at the left. Only these figures are kept, no sound." }
        }
        @for song in songs {
            section {
                h2 { (song.title) }
                @if let Some(change) = song.change() { p { (change) } }
                (plot("How even, in milliseconds: lower is steadier", "ms", &song.takes, |take| Some(take.even)))
                (plot("How much of the open chair you covered: a hundred is all of it", "", &song.takes,
                    |take| take.share().map(|share| share * 100.0)))
                (plot("How fast: a hundred is the song's own tempo", "", &song.takes, |take| Some(take.speed)))
                (table(&song.takes))
            }
        }
        footer {
            p.care {
                "Short and often beats long and sore. Rest your hands, keep headphones low, and ask a teacher or a "
                "doctor about pain that stays."
            }
        }
    };
    document("Your takes, day by day", &body)
}

/// A value over the takes.
fn plot(title: &str, unit: &str, takes: &[Entry], value: impl Fn(&Entry) -> Option<f64>) -> Markup {
    let points: Vec<(f64, f64)> = takes
        .iter()
        .enumerate()
        .filter_map(|(at, take)| {
            let across = (at as f64 + 0.5) / takes.len().max(1) as f64;
            value(take).filter(|value| value.is_finite()).map(|value| (across, value))
        })
        .collect();
    let most = points.iter().map(|point| point.1).fold(1.0, f64::max);
    // To a whole ten above.
    let most = (most / 10.0).ceil() * 10.0;
    let y = |value: f64| EDGE + HEIGHT * (1.0 - value.max(0.0) / most);
    let whole = HEIGHT + 2.0 * EDGE;
    let told = format!(
        "{title}: {}",
        points.iter().map(|point| format!("{:.0}", point.1)).collect::<Vec<_>>().join(", ")
    );
    html! {
        h3 { (title) }
        div.plot {
            svg.scale width="88" height=(whole) aria-hidden="true" {
                text x="82" y=(EDGE + 4.0) text-anchor="end" { (format!("{most:.0} {unit}").trim_end()) }
                text x="82" y=(EDGE + HEIGHT + 4.0) text-anchor="end" { "0" }
            }
            svg.field width="100%" height=(whole) role="img" aria-label=(told) {
                line.floor x1="0" x2="100%" y1=(EDGE + HEIGHT) y2=(EDGE + HEIGHT) {}
                line.floor x1="0" x2="100%" y1=(EDGE) y2=(EDGE) {}
                @for pair in points.windows(2) {
                    @if let [one, other] = pair {
                        line.mean x1=(percent(one.0)) x2=(percent(other.0)) y1=(y(one.1)) y2=(y(other.1)) {}
                    }
                }
                @for (across, value) in &points {
                    circle.even cx=(percent(*across)) cy=(y(*value)) r="4" {}
                    text x=(percent(*across)) y=(y(*value) - 7.0) text-anchor="middle" { (format!("{value:.0}")) }
                }
            }
        }
    }
}

fn percent(share: f64) -> String {
    format!("{:.2}%", share * 100.0)
}

fn table(takes: &[Entry]) -> Markup {
    html! {
        div.wide {
            table {
                thead { tr { th { "day" } th { "speed" } th { "without" } th { "bars" } th { "covered" } th { "even to" } th { "worked on" } } }
                tbody {
                    @for take in takes {
                        tr {
                            td { (take.day()) }
                            td { (format!("{:.0}", take.speed)) }
                            td { (take.without.join(", ")) }
                            td { (take.bars.0) "–" (take.bars.1) }
                            td { (format!("{} of {}", take.covered, take.open)) }
                            td { (format!("{:.0} ms", take.even)) }
                            td { (take.work_on.words()) }
                        }
                    }
                }
            }
        }
    }
}
