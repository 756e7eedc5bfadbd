//! What was noticed of the left hand: which chords were missed, mistaken, or came late.

use super::changes::Missed;
use super::figures::{Sheet, SheetBar};
use super::found::{bad, bars_told, good, in_bars};
use super::{Finding, Part, Tone};
use crate::coverage::{BeatPart, Job};
use crate::text::list;
use crate::time::{Meter, Ticks};

pub(super) fn found(sheet: &Sheet<'_>) -> Vec<Finding> {
    let (stays, wrong, late) = (changes(sheet, true), changes(sheet, false), late(sheet));
    let plain = stays.is_none() && wrong.is_none() && late.is_none();
    let outside = if plain { chords(sheet) } else { None };
    [stays, wrong, late, outside].into_iter().flatten().collect()
}

/// Chords that come late as a habit.
fn late(sheet: &Sheet<'_>) -> Option<Finding> {
    let late = sheet.late.as_ref()?;
    let how = how_long(late.behind, sheet.song.meter);
    let to = match &late.chord {
        Some(chord) => format!("to the {chord} {how} late"),
        None => format!("{how} late"),
    };
    let words = format!(
        "You change chords {to}: {} of {} changes ({}).",
        late.bars.len(),
        late.told,
        bars_told(&late.bars)
    );
    let share = late.bars.len() as f64 / late.told.max(1) as f64;
    in_bars(bad(Part::ChordLate, share, words), late.bars.iter().copied())
}

/// A time as players count it.
fn how_long(time: Ticks, meter: Meter) -> String {
    let (ticks, beat) = (time.get(), meter.beat().get().max(1));
    let half = ticks * 2 / beat;
    match (ticks * 2 % beat, half) {
        (0, 1) if meter != Meter::SixEight => match meter.beat() {
            Ticks::QUARTER => "an eighth".to_owned(),
            _ => "half a beat".to_owned(),
        },
        (0, 2) => "a beat".to_owned(),
        (0, 3) => "a beat and a half".to_owned(),
        (0, even) if even % 2 == 0 => format!("{} beats", even / 2),
        (0, odd) => format!("{} and a half beats", odd / 2),
        _ => match ticks / Ticks::EIGHTH.get().max(1) {
            0 => "a sixteenth".to_owned(),
            1 => "an eighth".to_owned(),
            eighths => format!("{eighths} eighths"),
        },
    }
}

/// The chords that were missed, by their names and bars: those where the hand stayed on the chord before, or those where
/// it went to another.
fn changes(sheet: &Sheet<'_>, stays: bool) -> Option<Finding> {
    /// So many chords are named.
    const NAMED: usize = 3;
    let changes = &sheet.changes;
    let of_kind: Vec<&Missed> =
        changes.missed.iter().filter(|missed| missed.stays == stays).collect();
    let first = of_kind.first()?;
    let like: Vec<&&Missed> =
        of_kind.iter().filter(|missed| missed.played == first.played).take(NAMED).collect();
    let named: Vec<String> = like
        .iter()
        .map(|missed| format!("the {} ({})", missed.wanted, bars_told(&missed.bars)))
        .collect();
    let (comes, is) = if named.len() == 1 { ("comes", "is") } else { ("come", "are") };
    let told = if stays {
        format!("You stay on {} where {} {comes}", first.played, list(&named, "and"))
    } else {
        format!("You play {} where {} {is}", first.played, list(&named, "and"))
    };
    let count: usize = of_kind.iter().map(|missed| missed.bars.len()).sum();
    let more = count - like.iter().map(|missed| missed.bars.len()).sum::<usize>();
    let more = match more {
        0 => ".".to_owned(),
        1 => ", and miss another chord once.".to_owned(),
        times => format!(", and miss others {times} times."),
    };
    let share = count as f64 / changes.judged.max(1) as f64;
    let about = if stays { Part::ChordsMissed } else { Part::ChordWrong };
    let bars = of_kind.iter().flat_map(|missed| missed.bars.iter().copied());
    in_bars(bad(about, share, told + &more), bars)
}

fn chords(sheet: &Sheet<'_>) -> Option<Finding> {
    /// From this share of the bars on it is more than a slip, and more than what an ear mishears.
    const WRONG: f64 = 0.1;
    let told: Vec<bool> = sheet.bars.iter().filter_map(|bar| off_the_chord(sheet, bar)).collect();
    let wrong = told.iter().filter(|wrong| **wrong).count();
    let share = wrong as f64 / told.len().max(1) as f64;
    if told.len() < 4 {
        return None;
    }
    if share > WRONG {
        let words = format!("In {wrong} of {} bars you are off the chord on the beat.", told.len());
        return bad(Part::Chords, share, words);
    }
    let clean = share < WRONG / 4.0;
    clean.then(|| good(Part::Chords, 0.4, "Your notes fit the chords.".to_owned()))?
}

/// True if half or more of what is played on the beats of a bar lies outside its chords; what passes between
/// them may. `None` where too little was made out, or the player leads and may play what the tune has.
pub(super) fn off_the_chord(sheet: &Sheet<'_>, bar: &SheetBar<'_>) -> Option<bool> {
    let picked = sheet.of(bar).iter().filter(|stroke| stroke.placed.tells || !stroke.spot.steady);
    let on_beats = picked.filter(|stroke| stroke.spot.place != BeatPart::And);
    let tones: Vec<Tone> =
        on_beats.map(|stroke| stroke.tone).filter(|tone| *tone != Tone::Unknown).collect();
    let outside = tones.iter().filter(|tone| **tone == Tone::Outside).count();
    let judged = bar.counts && bar.covered.job != Job::Lead && !tones.is_empty();
    judged.then_some(outside * 2 >= tones.len())
}
