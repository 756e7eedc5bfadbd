use super::figures::{Sheet, SheetBar, SheetStroke, timing};
use super::findings::{off_the_chord, too_busy, unfilled};
use super::{Advice, Part, Review};

/// The fewest and the most bars that make a loop.
const LOOP: (usize, usize) = (2, 8);

/// The one thing to work on next: what was found that matters most, where it is worst.
pub(super) fn advice(review: &Review, sheet: &Sheet<'_>) -> Advice {
    let worst = review.findings.iter().find(|finding| !finding.good);
    let about = worst.map_or(Part::Steady, |finding| finding.about);
    let bars = if about == Part::Steady { None } else { stretch(sheet, about) };
    let speed = speed(review.speed, about);
    let at = bars.map_or(String::new(), |(first, last)| format!("Loop bars {first} to {last}"));
    let words = match about {
        Part::Rushing => format!(
            "Hold back. {at} at {speed:.0} percent, and listen for the bass under your thumb: let it come \
             before you."
        ),
        Part::Dragging => format!(
            "Keep up. {at} at {speed:.0} percent, and count the beat aloud until your hand is there with it."
        ),
        Part::Early => {
            format!("Wait for the band. {at} at {speed:.0} percent, and play into its beat.")
        }
        Part::Late => {
            format!("Be there on time. {at} at {speed:.0} percent, and aim for the beat itself.")
        }
        Part::Uneven => format!(
            "Even out your right hand. {at} at {speed:.0} percent, quietly, every stroke as long as the other."
        ),
        Part::Lost => format!("Stay with the bar. {at}, and say the first beat of each bar aloud."),
        Part::Chords => format!(
            "Get the changes into your left hand. {at} at {speed:.0} percent, and finger each chord before \
             its bar begins."
        ),
        Part::Busy => format!(
            "Play less while the singer sings. {at}, and play nothing but a soft vamp there; save the roll \
             for the pauses."
        ),
        Part::Uncovered => {
            format!(
                "Fill the open chair. {at}, and play on every place that is left open before anything else."
            )
        }
        Part::NoFills => format!("Answer the singer. {at}, and play a short fill in each pause."),
        Part::Steady => format!(
            "Nothing stands out to be mended. Go on at {speed:.0} percent, or leave another chair open."
        ),
    };
    Advice { about, words, bars, speed, command: String::new() }
}

/// The practice speed for it: slower than now for what the hands must learn, as now for what the head must.
fn speed(now: f64, about: Part) -> f64 {
    /// The slowest that is still music, and the fastest that is offered.
    const RANGE: (f64, f64) = (40.0, 130.0);
    let wanted = match about {
        Part::Uneven | Part::Chords => now * 0.8,
        Part::Rushing | Part::Dragging | Part::Early | Part::Late => now * 0.9,
        Part::Lost | Part::Busy | Part::Uncovered | Part::NoFills => return now,
        Part::Steady => now + 5.0,
    };
    ((wanted / 5.0).round() * 5.0).clamp(RANGE.0, RANGE.1.max(now))
}

/// The line of the chart where it is worst.
fn stretch(sheet: &Sheet<'_>, about: Part) -> Option<(usize, usize)> {
    let lines = lines(sheet);
    let worst = lines
        .iter()
        .map(|bars| (bars, weight(sheet, bars, about)))
        // Of lines as bad as each other, the first.
        .fold(None, |worst: Option<(&&[SheetBar<'_>], f64)>, (bars, weight)| match worst {
            Some((_, most)) if most >= weight => worst,
            _ => Some((bars, weight)),
        });
    let (bars, _) = worst?;
    Some((bars.first()?.bar.number, bars.last()?.bar.number))
}

/// The lines of the chart that the take reaches: long ones in pieces, a single bar with the one after it.
fn lines<'a, 'b>(sheet: &'b Sheet<'a>) -> Vec<&'b [SheetBar<'a>]> {
    let of_form = |bar: &&SheetBar<'_>| bar.counts;
    let mut out = Vec::new();
    for pass in sheet.bars.chunk_by(|one, other| one.bar.pass == other.bar.pass) {
        if !pass.first().as_ref().is_some_and(of_form) {
            continue;
        }
        let mut from = 0;
        for line in pass.chunk_by(|one, other| one.bar.line == other.bar.line) {
            for piece in line.chunks(if line.len() > LOOP.1 { LOOP.1 / 2 } else { LOOP.1 }) {
                let to = from + piece.len();
                let short = LOOP.0.saturating_sub(piece.len());
                // At the end of a pass, the bar before.
                let end = (to + short).min(pass.len());
                let begin = from.saturating_sub((to + short).saturating_sub(end));
                out.extend(pass.get(begin..end).filter(|bars| !bars.is_empty()));
                from = to;
            }
        }
    }
    out
}

/// How bad it is in some bars.
fn weight(sheet: &Sheet<'_>, bars: &[SheetBar<'_>], about: Part) -> f64 {
    let share = |bad: &dyn Fn(&SheetBar<'_>) -> Option<bool>| {
        bars.iter().filter(|bar| bad(bar) == Some(true)).count() as f64 / bars.len().max(1) as f64
    };
    let strokes: Vec<&SheetStroke<'_>> = bars.iter().flat_map(|bar| sheet.of(bar)).collect();
    // Of too few strokes, time can't be told.
    if strokes.len() < 4 && !matches!(about, Part::Uncovered | Part::NoFills) {
        return -1.0;
    }
    let timing = timing(&strokes, 0.0);
    match about {
        Part::Rushing => timing.rushing,
        Part::Dragging => -timing.rushing,
        Part::Early => -timing.mean,
        Part::Late => timing.mean,
        Part::Uneven => timing.spread,
        Part::Chords => share(&|bar| {
            let off = off_the_chord(sheet, bar);
            if sheet.changes.has(bar.bar.number) { Some(true) } else { off }
        }),
        Part::Busy => share(&too_busy),
        Part::Uncovered => {
            let open: usize = bars.iter().map(|bar| bar.open).sum();
            let filled: usize = bars.iter().map(|bar| bar.filled).sum();
            (open - filled) as f64 / bars.len().max(1) as f64
        }
        Part::NoFills => share(&unfilled),
        Part::Lost => {
            let first = sheet.lost.first().and_then(|(bar, _)| sheet.song.bars.get(*bar));
            let here =
                first.is_some_and(|first| bars.iter().any(|bar| std::ptr::eq(bar.bar, first)));
            f64::from(u8::from(here))
        }
        Part::Steady => 0.0,
    }
}
