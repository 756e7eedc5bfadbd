//! A review in words.

use std::fmt::Write;

use super::{Figures, Finding, PassReview, Review, TimingReference};
use crate::take::Source;
use crate::text::paragraph;

/// Below this it is told that the take may lie elsewhere.
const SURE: f64 = 0.5;

/// The review for people: the one thing first, then what went well, then the figures; prose in lines of at most `wide`
/// letters.
pub fn words(review: &Review, wide: usize) -> String {
    let mut out = String::new();
    let open = match review.open.as_slice() {
        [] => String::new(),
        open => format!(", without {}", crate::text::list(open, "and")),
    };
    paragraph(
        &mut out,
        0,
        wide,
        &format!(
            "{} in {}, {}, {:.0} beats a minute{open}: {} {}.",
            review.title,
            review.key,
            review.meter,
            review.tempo,
            review.whole.hits,
            strokes(review)
        ),
    );
    if review.sure < SURE {
        let doubt = format!(
            "It is not sure that this is where the take lies in the song, {:.0} percent. If what follows \
             makes no sense, check the song, --key and --tempo, or record against a count-in and say so \
             with --count-in.",
            review.sure * 100.0
        );
        paragraph(&mut out, 0, wide, &doubt);
    }
    for remark in &review.remarks {
        paragraph(&mut out, 0, wide, remark);
    }
    let (good, bad): (Vec<&Finding>, Vec<&Finding>) =
        review.findings.iter().partition(|finding| finding.good);
    out.push_str("\nWork on this next\n");
    if let Some(worst) = bad.first() {
        paragraph(&mut out, 2, wide, &worst.words);
    }
    paragraph(&mut out, 2, wide, &review.advice.words);
    // Never broken: it is there to be copied.
    let _ = writeln!(out, "    {}", review.advice.command);
    list(&mut out, wide, "What goes well", &good);
    list(&mut out, wide, "Later", bad.get(1..).unwrap_or_default());
    if review.hits.is_empty() {
        // Of nobody there are no figures.
        return out;
    }
    out.push('\n');
    out.push_str(&table(review));
    out.push('\n');
    paragraph(&mut out, 0, wide, &against(review));
    paragraph(&mut out, 0, wide, &notes(&review.whole));
    busy(&review.whole).inspect(|busy| paragraph(&mut out, 0, wide, busy));
    if review.advice.bars.is_some() {
        let rest = "Short and often beats long and sore: rest your hands every few minutes, and stop at the \
                    first sign of pain.";
        out.push('\n');
        paragraph(&mut out, 0, wide, rest);
    }
    out
}

const fn strokes(review: &Review) -> &'static str {
    match review.source {
        Source::Midi => "strokes played",
        Source::Sound => "strokes heard",
    }
}

fn list(out: &mut String, wide: usize, heading: &str, findings: &[&Finding]) {
    if findings.is_empty() {
        return;
    }
    let _ = writeln!(out, "\n{heading}");
    for finding in findings {
        paragraph(out, 2, wide, &finding.words);
    }
}

/// A line a pass, and one for all of it.
fn table(review: &Review) -> String {
    let head = ["bars", "", "covered", "late", "even to", "pace", "off chord"];
    let mut rows: Vec<[String; 7]> = vec![head.map(str::to_owned)];
    let row = |bars: &str, label, figures| row(bars, label, figures, review.tempo);
    rows.extend(review.passes.iter().map(|pass| row(&bars(pass), &pass.label, &pass.figures)));
    rows.push(row("", "in all", &review.whole));
    let widths: Vec<usize> = (0..head.len())
        .map(|column| {
            let cells = rows.iter().filter_map(|row| row.get(column));
            cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
        })
        .collect();
    let mut out = String::new();
    for row in &rows {
        let cells: Vec<String> = row
            .iter()
            .zip(&widths)
            .enumerate()
            .map(
                |(column, (cell, &width))| {
                    if column < 2 { format!("{cell:width$}") } else { format!("{cell:>width$}") }
                },
            )
            .collect();
        let _ = writeln!(out, "{}", cells.join("  ").trim_end());
    }
    out
}

fn bars(pass: &PassReview) -> String {
    let (first, last) = pass.bars;
    format!("{first}-{last}")
}

fn row(bars: &str, label: &str, figures: &Figures, tempo: f64) -> [String; 7] {
    let filled = match figures.open {
        0 => "-".to_owned(),
        open => format!("{} of {open}", figures.covered),
    };
    let known = figures.hits - figures.tones.unknown.min(figures.hits);
    let outside = match known {
        0 => "-".to_owned(),
        _ => format!("{} of {known}", figures.tones.outside),
    };
    let timing = &figures.timing;
    [
        bars.to_owned(),
        label.to_owned(),
        filled,
        lateness(timing.mean),
        format!("{:.0} ms", timing.spread),
        pace(timing.rushing, tempo),
        outside,
    ]
}

/// Milliseconds as early or late.
fn lateness(millis: f64) -> String {
    match millis.round() {
        early if early < 0.0 => format!("{:.0} ms early", -early),
        late if late > 0.0 => format!("{late:.0} ms late"),
        _ => "on it".to_owned(),
    }
}

/// The player's own beats a minute, so many percent more than the band's.
fn pace(percent: f64, band: f64) -> String {
    // What nobody hears is the band's.
    if percent.abs() < 0.25 {
        "the band's".to_owned()
    } else {
        format!("{:.1}", band * (1.0 + percent / 100.0))
    }
}

fn against(review: &Review) -> String {
    let band = review.whole.timing.band_spread;
    let how = match review.against {
        TimingReference::Band => "Early and late are told against the band's beat.",
        TimingReference::Fit => {
            "Early and late are told against the band's beat. Nothing says where the take began, so it was \
             laid where it fits best, and whether all of it is early or late can't be told: record against a \
             count-in for that, and say so with --count-in."
        }
        TimingReference::Own => {
            "Your beat went off from the band's, so early and late are told against your own."
        }
    };
    format!("{how} The band itself keeps within {band:.0} ms.")
}

fn notes(whole: &Figures) -> String {
    let tones = &whole.tones;
    if tones.unknown >= whole.hits {
        return "Which notes they are was not made out, so nothing is said of the chords."
            .to_owned();
    }
    let unknown = match tones.unknown {
        0 => String::new(),
        unknown => format!(" {unknown} were not made out."),
    };
    format!(
        "Of your strokes, {} are on the chord, {} have its sixth, {} lead into the next chord, {} are off it, as \
         passing notes are too.{unknown}",
        tones.chord, tones.sixth, tones.anticipation, tones.outside
    )
}

fn busy(whole: &Figures) -> Option<String> {
    let parts: Vec<String> = [
        (whole.busy.sung, "while the singer sings"),
        (whole.busy.pauses, "in the singer's pauses"),
        (whole.busy.others, "where nobody sings"),
    ]
    .into_iter()
    .filter_map(|(count, when)| count.map(|count| format!("{count:.1} {when}")))
    .collect();
    (!parts.is_empty()).then(|| format!("Strokes a bar: {}.", crate::text::list(&parts, "and")))
}
