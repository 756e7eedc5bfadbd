use super::changes::Missed;
use super::figures::{Sheet, SheetBar};
use super::noticed::{EARLY, LATE, RUSHING, uneven};
use super::{Finding, Part, Review, TimingReference, Tone};
use crate::coverage::{BeatPart, Job, Singing};

/// All that was noticed, what matters most first.
pub(super) fn findings(review: &Review, sheet: &Sheet<'_>) -> Vec<Finding> {
    let mut out: Vec<Finding> = [
        lost(sheet),
        tempo(review, sheet),
        beside(review),
        evenness(review, sheet),
        chords(sheet),
        covered(review),
        behind_the_singer(sheet),
        fills(sheet),
    ]
    .into_iter()
    .flatten()
    .collect();
    out.sort_by(|one, other| {
        (one.good, other.weight)
            .partial_cmp(&(other.good, one.weight))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    out
}

fn bad(about: Part, weight: f64, words: String) -> Option<Finding> {
    Some(Finding { about, good: false, weight: weight.clamp(0.0, 1.0), words })
}

fn good(about: Part, weight: f64, words: String) -> Option<Finding> {
    Some(Finding { about, good: true, weight: weight.clamp(0.0, 1.0), words })
}

fn tempo(review: &Review, sheet: &Sheet<'_>) -> Option<Finding> {
    /// After so many bars it is told how far the beat has gone off.
    const BARS: f64 = 16.0;
    let percent = review.whole.timing.rushing;
    if percent.abs() < RUSHING {
        return None;
    }
    let beats = sheet.song.meter.beats() as f64 * BARS * percent.abs() / 100.0;
    let (about, verb, faster, ahead) = if percent > 0.0 {
        (Part::Rushing, "rush", "faster", "ahead")
    } else {
        (Part::Dragging, "drag", "slower", "behind")
    };
    let words = format!(
        "You {verb}: your beat goes {:.1} percent {faster} than the band's. After {BARS} bars you are \
         {beats:.1} beats {ahead}.",
        percent.abs()
    );
    bad(about, 0.4 + 0.1 * percent.abs(), words)
}

fn lost(sheet: &Sheet<'_>) -> Option<Finding> {
    let &(bar, seconds) = sheet.lost.first()?;
    let song = sheet.song;
    let number = song.bars.get(bar)?.number;
    let beats = seconds / song.tempo.nanos(song.meter.beat()).seconds();
    let (verb, when) = if beats > 0.0 { ("lose", "before") } else { ("gain", "after") };
    let count = match beats.abs() {
        half if half < 0.75 => "half a beat".to_owned(),
        one if one < 1.25 => "a beat".to_owned(),
        more => format!("{more:.0} beats"),
    };
    let more = match sheet.lost.len() {
        1 => String::new(),
        count => format!(" It happens {count} times."),
    };
    let words = format!(
        "About bar {number} you {verb} {count}: from there on your bars begin {count} {when} the song's.{more}"
    );
    bad(Part::Lost, 0.95, words)
}

fn beside(review: &Review) -> Option<Finding> {
    let mean = review.whole.timing.mean;
    if review.against != TimingReference::Band || (-EARLY..=LATE).contains(&mean) {
        return None;
    }
    let (about, word) = if mean < 0.0 { (Part::Early, "early") } else { (Part::Late, "late") };
    let words = format!(
        "All of it is {:.0} ms {word}. If the recording was delayed, say by how much with --latency: a \
         review can't tell that from your hands.",
        mean.abs()
    );
    bad(about, 0.3 + mean.abs() / 400.0, words)
}

fn evenness(review: &Review, sheet: &Sheet<'_>) -> Option<Finding> {
    let timing = &review.whole.timing;
    let from = uneven(step(sheet));
    let told = format!(
        "your strokes stray by {:.0} ms from your own beat, the band's by {:.0} ms from theirs",
        timing.spread, timing.band_spread
    );
    if timing.spread > from {
        let words = format!("You play unevenly: {told}. From {from:.0} ms on it is heard.");
        return bad(Part::Uneven, 0.25 + 0.2 * timing.spread / from, words);
    }
    let even = timing.rushing.abs() < RUSHING;
    even.then(|| good(Part::Steady, 0.6, format!("You keep time: {told}.")))?
}

/// How far the places of the beat are apart, in milliseconds.
fn step(sheet: &Sheet<'_>) -> f64 {
    let song = sheet.song;
    song.tempo.nanos(BeatPart::grid(song.meter)).seconds() * 1e3
}

/// The chords that were missed, by their names and bars.
fn changes(sheet: &Sheet<'_>) -> Option<Finding> {
    /// So many chords are named, and so many bars of each.
    const NAMED: (usize, usize) = (3, 4);
    let changes = &sheet.changes;
    let first = changes.missed.first()?;
    let bars = |numbers: &[usize]| {
        let named = numbers.get(..NAMED.1).unwrap_or(numbers);
        let named: Vec<String> = named.iter().map(ToString::to_string).collect();
        let word = if numbers.len() == 1 { "bar" } else { "bars" };
        match numbers.len().checked_sub(NAMED.1) {
            Some(more @ 1..) => format!("{word} {} and {more} more", named.join(", ")),
            _ => format!("{word} {}", and(&named)),
        }
    };
    let like = |missed: &&Missed| missed.played == first.played && missed.stays == first.stays;
    let named: Vec<String> = changes
        .missed
        .iter()
        .filter(like)
        .take(NAMED.0)
        .map(|missed| format!("the {} ({})", missed.wanted, bars(&missed.bars)))
        .collect();
    let (comes, is) = if named.len() == 1 { ("comes", "is") } else { ("come", "are") };
    let told = if first.stays {
        format!("You stay on {} where {} {comes}", first.played, and(&named))
    } else {
        format!("You play {} where {} {is}", first.played, and(&named))
    };
    let more: usize = changes.count()
        - changes
            .missed
            .iter()
            .filter(like)
            .take(NAMED.0)
            .map(|missed| missed.bars.len())
            .sum::<usize>();
    let more = match more {
        0 => ".".to_owned(),
        1 => ", and miss another chord once.".to_owned(),
        times => format!(", and miss others {times} times."),
    };
    let share = changes.count() as f64 / changes.judged.max(1) as f64;
    bad(Part::Chords, 0.5 + 0.45 * share, told + &more)
}

/// In a row, the last one after an "and".
fn and(words: &[String]) -> String {
    match words {
        [all @ .., last] if !all.is_empty() => format!("{} and {last}", all.join(", ")),
        _ => words.concat(),
    }
}

fn chords(sheet: &Sheet<'_>) -> Option<Finding> {
    /// From this share of the bars on it is more than a slip, and more than what an ear mishears.
    const WRONG: f64 = 0.1;
    if let Some(missed) = changes(sheet) {
        return Some(missed);
    }
    let told: Vec<bool> = sheet.bars.iter().filter_map(|bar| off_the_chord(sheet, bar)).collect();
    let wrong = told.iter().filter(|wrong| **wrong).count();
    let share = wrong as f64 / told.len().max(1) as f64;
    if told.len() < 4 {
        return None;
    }
    if share > WRONG {
        let words = format!(
            "In {wrong} of {} bars half of your beats or more are outside the chord.",
            told.len()
        );
        return bad(Part::Chords, 0.5 + share, words);
    }
    let clean = share < WRONG / 4.0;
    clean.then(|| good(Part::Chords, 0.4, "Your notes are the chords'.".to_owned()))?
}

/// True if half or more of what is played on the beats of a bar lies outside its chords; what passes between
/// them may. `None` where too little was made out, or the player leads and may play what the tune has.
pub(super) fn off_the_chord(sheet: &Sheet<'_>, bar: &SheetBar<'_>) -> Option<bool> {
    let on_beats = sheet.of(bar).iter().filter(|stroke| stroke.spot.place != BeatPart::And);
    let tones: Vec<Tone> =
        on_beats.map(|stroke| stroke.tone).filter(|tone| *tone != Tone::Unknown).collect();
    let outside = tones.iter().filter(|tone| **tone == Tone::Outside).count();
    let judged = bar.counts && bar.covered.job != Job::Lead && !tones.is_empty();
    judged.then_some(outside * 2 >= tones.len())
}

fn covered(review: &Review) -> Option<Finding> {
    let (open, covered) = (review.whole.open, review.whole.covered);
    if open < 8 {
        return None;
    }
    let share = covered as f64 / open as f64;
    let told = format!("{covered} of the {open} places that the band left open to you");
    if share < 0.7 {
        return bad(Part::Uncovered, 0.9 - share * 0.6, format!("You filled only {told}."));
    }
    (share >= 0.85).then(|| good(Part::Uncovered, 0.5, format!("You filled {told}.")))?
}

fn behind_the_singer(sheet: &Sheet<'_>) -> Option<Finding> {
    let told: Vec<bool> = sheet.bars.iter().filter_map(too_busy).collect();
    if told.len() < 4 {
        return None;
    }
    let busy = told.iter().filter(|busy| **busy).count();
    let share = busy as f64 / told.len() as f64;
    if share > 0.4 {
        let words = format!(
            "You are busy behind the singer: in {busy} of {} bars where nothing was left open you play on \
             more than two thirds of the places.",
            told.len()
        );
        return bad(Part::Busy, 0.4 + share * 0.3, words);
    }
    (share < 0.1).then(|| good(Part::Busy, 0.3, "You leave the singer room.".to_owned()))?
}

/// True if a bar is busy though next to nothing is to be played behind the singer; `None` where that is not the
/// job: a soft roll is on every place.
pub(super) fn too_busy(bar: &SheetBar<'_>) -> Option<bool> {
    let judged =
        bar.counts && bar.covered.job == Job::Sparse && bar.covered.singing == Singing::Sings;
    // A vamp with a note that leads on takes half of them.
    judged.then_some(bar.strokes.len() * 3 > bar.places * 2)
}

fn fills(sheet: &Sheet<'_>) -> Option<Finding> {
    let told: Vec<bool> = sheet.bars.iter().filter_map(unfilled).collect();
    let missed = told.iter().filter(|missed| **missed).count();
    if told.len() < 2 {
        return None;
    }
    if missed * 2 > told.len() {
        let words = format!(
            "The singer pauses in {} bars, and in {missed} of them nothing answers.",
            told.len()
        );
        return bad(Part::NoFills, 0.3, words);
    }
    (missed == 0)
        .then(|| good(Part::NoFills, 0.35, "You answer in the singer's pauses.".to_owned()))?
}

/// True if a pause of the singer's stays without a fill; `None` in other bars.
pub(super) fn unfilled(bar: &SheetBar<'_>) -> Option<bool> {
    /// One stroke is no fill.
    const FILL: usize = 2;
    (bar.counts && bar.covered.job == Job::Fill).then_some(bar.strokes.len() < FILL)
}
