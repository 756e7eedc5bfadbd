use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::pages::{broken, row_width};
use super::runs::chord_runs;
use super::widths::Fonts;
use super::{BarSign, Cell, ChartSheet, ChordText, Pages, Part, PassRow, PlacedChord, Row};
use crate::chart::Stop;

/// How it looks on a screen and on paper.
const LOOK: &str = include_str!("chart.css");

/// Charts as one page for a browser that needs nothing beside it: large on a screen, and printed each on a sheet of
/// its own, with chords as large, and in as many columns, as they were found to fit.
pub fn html(title: &str, charts: &[(ChartSheet, Pages)], big: bool) -> String {
    let fonts = Fonts::new();
    let page = html! {
        (DOCTYPE)
        html lang="en" class=(if big { "big" } else { "near" }) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content="openchair";
                title { (title) }
                style { (PreEscaped(LOOK)) }
            }
            body {
                @if charts.len() > 1 {
                    nav {
                        ul {
                            @for (number, (sheet, _)) in (1..).zip(charts) {
                                li { a href=(format!("#chart-{number}")) { (sheet.title) } }
                            }
                        }
                    }
                }
                @for (number, (sheet, pages)) in (1..).zip(charts) { (chart(number, sheet, pages, big, &fonts)) }
            }
        }
    };
    page.into_string()
}

fn chart(number: usize, sheet: &ChartSheet, pages: &Pages, big: bool, fonts: &Fonts) -> Markup {
    /// A line of more bars is broken on a screen.
    const MOST: f64 = 5.0;
    let rows: Vec<Vec<Row>> = sheet.parts.iter().map(|part| broken(&part.rows, MOST)).collect();
    let units = rows.iter().flatten().map(row_width).fold(3.0, f64::max);
    let style = format!("--paper:{}pt;--columns:{};--units:{units}", pages.size, pages.columns);
    html! {
        main id=(format!("chart-{number}")) style=(style) {
            header {
                h1 { (sheet.title) }
                p.key { "Key of " (signed(&sheet.key)) }
                @if let Some(composer) = &sheet.composer { p.composer { (composer) } }
                ul.facts { @for fact in &sheet.facts { li { (fact) } } }
            }
            @if !big { (form(&sheet.passes)) }
            div.parts {
                @for (part, rows) in sheet.parts.iter().zip(&rows) { (section(part, rows, fonts)) }
            }
            @if big { (form(&sheet.passes)) }
            @if !sheet.signs.is_empty() {
                ul.signs { @for sign in &sheet.signs { li { (sign) } } }
            }
        }
    }
}

fn form(passes: &[PassRow]) -> Markup {
    let any_open = passes.iter().any(|pass| !pass.open.is_empty());
    html! {
        @if !passes.is_empty() {
            table.form {
                thead { tr {
                    th {} th { "form" } th { "lead" } th { "bars" }
                    @if any_open { th { "open chair" } }
                    th { "left to the banjo" }
                } }
                tbody {
                    @for pass in passes {
                        tr {
                            td { b { (pass.number) } } th scope="row" { (pass.section) } td { (pass.lead) }
                            td.bars { (pass.bars) }
                            @if any_open { td.open { (pass.open) } }
                            td { (pass.jobs) }
                        }
                    }
                }
            }
        }
    }
}

fn section(part: &Part, rows: &[Row], fonts: &Fonts) -> Markup {
    html! {
        section {
            h2 { (capital(&part.name)) " " small { (part.note) } }
            @for row in rows { (line(row, part, fonts)) }
        }
    }
}

fn capital(name: &str) -> String {
    let mut letters = name.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn line(row: &Row, part: &Part, fonts: &Fonts) -> Markup {
    let numbers: Vec<String> = row.numbers.iter().map(usize::to_string).collect();
    let close = match row.close {
        BarSign::RepeatTo => "row repeat-to",
        BarSign::Double => "row double",
        BarSign::Line | BarSign::RepeatFrom => "row",
    };
    let stops = row.cells.iter().any(|cell| !cell.stops.is_empty());
    html! {
        div class=(close) data-stops[stops] data-sung[part.is_sung] {
            span.number { @for number in &numbers { span { (number) } " " } }
            @if row.indent > 0.0 { span.indent style=(format!("--w:{}", row.indent)) {} }
            @for cell in &row.cells { (bar(cell, fonts)) }
        }
    }
}

fn bar(cell: &Cell, fonts: &Fonts) -> Markup {
    let class = if cell.open == BarSign::RepeatFrom { "bar repeat-from" } else { "bar" };
    let need = needed(cell, fonts);
    let style = format!("--w:{};--e:{};--need:{need:.2}", cell.width, cell.eighths);
    html! {
        div class=(class) style=(style) {
            @if let Some(ending) = cell.ending { span.ending { (ending) "." } }
            @for mark in &cell.stops {
                @let (sign, words) = stop(mark.stop);
                span.stop style=(format!("grid-column:{}", mark.at + 1)) title=(words) { (sign) }
            }
            @for placed in &cell.chords { (chord(placed, cell)) }
            @for slash in cell.slashes.iter().filter(|slash| !is_under(**slash, cell)) {
                span.slash style=(format!("grid-column:{}", slash + 1)) { "/" }
            }
            @for (from, until) in &cell.sung {
                i.sung style=(format!("grid-column:{}/{}", from + 1, until + 1)) {}
            }
        }
    }
}

/// How wide a bar must be, in sizes of its chords, for each of them to stand in its share of it.
fn needed(cell: &Cell, fonts: &Fonts) -> f64 {
    /// From a chord to the next at least.
    const APART: f64 = 0.2;
    /// How wide a meter before it is.
    const METER: f64 = 0.65;
    let needed = cell.chords.iter().map(|chord| {
        let runs = chord_runs(&chord.text, 1.0, !chord.is_held);
        let wide: f64 = runs.iter().map(|run| fonts.width(&run.words, run.size, run.bold)).sum();
        let share =
            f64::from(chord.until.saturating_sub(chord.at)) / f64::from(cell.eighths.max(1));
        let meter = if chord.at == 0 && cell.meter.is_some() { METER } else { 0.0 };
        (wide + meter + APART) / share.max(LEAST_SHARE)
    });
    needed.fold(1.0, f64::max)
}

/// True if a chord that comes at the very end of a bar stands where the slash would.
fn is_under(slash: u32, cell: &Cell) -> bool {
    let late = cell.chords.iter().filter(|chord| is_late(chord, cell));
    late.into_iter().any(|chord| slash < chord.at && (chord.at - slash) * 4 <= cell.eighths)
}

fn is_late(chord: &PlacedChord, cell: &Cell) -> bool {
    let share = f64::from(chord.until.saturating_sub(chord.at)) / f64::from(cell.eighths.max(1));
    chord.at > 0 && share < LEAST_SHARE
}

/// What comes at the very end of a bar stands before its place, in as much of the bar.
const LEAST_SHARE: f64 = 0.25;

fn chord(chord: &PlacedChord, cell: &Cell) -> Markup {
    let next = cell.slashes.iter().copied().find(|slash| *slash > chord.at && *slash < chord.until);
    let until = next.unwrap_or(chord.until);
    let class = match (chord.is_held, is_late(chord, cell)) {
        (true, _) => "chord held",
        (false, true) => "chord late",
        (false, false) => "chord",
    };
    let style = format!("grid-column:{}/{}", chord.at + 1, until + 1);
    html! {
        span class=(class) style=(style) {
            @if let Some(meter) = cell.meter.filter(|_| chord.at == 0) { span.meter { (meter) } }
            @if chord.is_pushed { span.push { "‹" } }
            span.name { (written(&chord.text)) }
            @if let Some(under) = &chord.under { span.under { (written(under)) } }
        }
    }
}

fn written(chord: &ChordText) -> Markup {
    html! {
        (signed(&chord.root))
        @if !chord.minor.is_empty() { span.minor { (chord.minor) } }
        @if !chord.raised.is_empty() { sup { (signed(&chord.raised)) } }
        @if !chord.bass.is_empty() { span.bass { (signed(&chord.bass)) } }
    }
}

/// Sharps and flats are thin in most type: they are made heavier.
fn signed(words: &str) -> Markup {
    html! {
        @for piece in words.split_inclusive(['♯', '♭']) {
            @let bare = piece.trim_end_matches(['♯', '♭']);
            (bare)
            @if bare.len() < piece.len() { span.sign { (piece.get(bare.len()..).unwrap_or_default()) } }
        }
    }
}

const fn stop(stop: Stop) -> (&'static str, &'static str) {
    match stop {
        Stop::PlayOn => ("", ""),
        Stop::Hit => ("×", "all hit and choke"),
        Stop::Hold => ("◇", "all strike and let ring"),
        Stop::Silence => ("–", "silence"),
    }
}
