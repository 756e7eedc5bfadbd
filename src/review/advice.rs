use super::figures::{Sheet, SheetBar, SheetStroke, timing};
use super::found_backup::{too_busy, unfilled};
use super::found_chords::off_the_chord;
use super::found_hand::is_rolled;
use super::priorities::priority;
use super::trend::mean;
use super::{Advice, Part, Review};
use crate::coverage::{BeatPart, Job, Singing};

/// The fewest and the most bars that make a loop.
const LOOP: (usize, usize) = (2, 8);

/// The one thing to work on next: what was found that matters most, where it is worst.
pub(super) fn advice(review: &Review, sheet: &Sheet<'_>) -> Advice {
    let worst = review.findings.iter().find(|finding| !finding.good);
    let about = worst.map_or(Part::Steady, |finding| finding.about);
    let in_bars = priority(about).is_some_and(|priority| priority.bars);
    let bars = if in_bars { stretch(sheet, about) } else { None };
    advice_on(about, bars, review.speed)
}

/// What the table of priorities says of something in some bars, at the speed now.
pub(super) fn advice_on(about: Part, bars: Option<(usize, usize)>, now: f64) -> Advice {
    let share = priority(about).map_or(100.0, |priority| priority.speed);
    let speed = speed(now, about, share);
    let words = priority(about).map_or_else(String::new, |known| known.work(bars, speed, now));
    Advice { about, words, bars, speed, command: String::new() }
}

/// The practice speed for it: slower than now for what the hands must learn, as now for what the head must, and a
/// little faster where nothing is left to be learnt.
fn speed(now: f64, about: Part, share: f64) -> f64 {
    /// The slowest that is still music, and the fastest that is offered.
    const RANGE: (f64, f64) = (40.0, 130.0);
    let wanted = match about {
        Part::Steady => now + 5.0,
        _ if share == 100.0 => return now,
        _ => now * share / 100.0,
    };
    ((wanted / 5.0).round() * 5.0).clamp(RANGE.0.min(now), RANGE.1.max(now))
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
    let of_late = || {
        let late = sheet.late.iter().flat_map(|late| &late.bars);
        late.filter(|late| bars.iter().any(|bar| bar.bar.number == **late)).count() as f64
    };
    let fills = |sign: f64| {
        let fills = strokes.iter().filter(|stroke| stroke.spot.job == Job::Fill);
        let stray: Vec<f64> = fills.map(|stroke| stroke.placed.stray).collect();
        if stray.is_empty() { -1.0 } else { sign * mean(&stray) }
    };
    match about {
        Part::Rushing => timing.rushing,
        Part::Dragging => -timing.rushing,
        Part::Early => -timing.mean,
        Part::Late => timing.mean,
        Part::Uneven => timing.spread,
        Part::IntoChanges => {
            let before = |stroke: &&&SheetStroke<'_>| sheet.is_before_change(stroke.spot.at);
            let early: Vec<f64> =
                strokes.iter().filter(before).map(|stroke| -stroke.placed.stray).collect();
            if early.is_empty() { -1.0 } else { mean(&early) }
        }
        // Where there is most of it to be heard.
        Part::Straight | Part::TooSwung => {
            let ands = strokes.iter().filter(|stroke| stroke.spot.place == BeatPart::And);
            ands.count() as f64
        }
        Part::Chords | Part::ChordsMissed | Part::ChordWrong => share(&|bar| {
            let off = off_the_chord(sheet, bar);
            if sheet.changes.has(bar.bar.number) { Some(true) } else { off }
        }),
        Part::ChordLate => of_late(),
        Part::Busy => share(&too_busy),
        Part::LoudBehindSinger => share(&|bar| Some(bar.covered.singing == Singing::Sings)),
        Part::Uncovered => {
            let open: usize = bars.iter().map(|bar| bar.open).sum();
            let filled: usize = bars.iter().map(|bar| bar.filled).sum();
            (open - filled) as f64 / bars.len().max(1) as f64
        }
        Part::NoFills => share(&unfilled),
        Part::FillsEarly => fills(-1.0),
        Part::FillsLate => fills(1.0),
        Part::Lost => {
            let first = sheet.lost.first().and_then(|(bar, _)| sheet.song.bars.get(*bar));
            let here =
                first.is_some_and(|first| bars.iter().any(|bar| std::ptr::eq(bar.bar, first)));
            f64::from(u8::from(here))
        }
        // Where there is most of it to be heard.
        Part::DownbeatsWeak => share(&|bar| Some(is_rolled(bar))),
        Part::LeadInsLost => {
            strokes.iter().filter(|stroke| sheet.is_before_change(stroke.spot.at)).count() as f64
        }
        Part::Fading | Part::BandHeard | Part::NobodyHeard | Part::Steady => 0.0,
    }
}
