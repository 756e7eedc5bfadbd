//! What leads into a made-up break: a note or two at the end of the bar before, where the singer has finished.

use super::hand::{Hand, step};
use super::leader::{Leader, leader};
use super::slot::{Slot, What};
use crate::arrange::{Arrangement, Bar, BarKind};
use crate::chart::{Lead, Role};
use crate::style::Loud;
use crate::time::{Meter, Ticks};

/// Of a hundred pickups, so many are one note, the others two eighths (common practice, no source).
const ONE: u64 = 35;

/// Who picks up into the next bar, where a break that nobody wrote begins after a pass in which the lead's chair has
/// nothing to play.
///
/// A guitar and a bass do not: their hands are at the rhythm until the bar line (common practice, no source).
pub(super) fn picks_up(song: &Arrangement, index: usize) -> Option<Lead> {
    let (bar, next) = (song.bars.get(index)?, song.bars.get(index + 1)?);
    let is_free = |bar: &Bar| {
        bar.kind == BarKind::Groove && bar.stops.is_empty() && !bar.resting.contains(Role::Lead)
    };
    let begins = bar.pass != next.pass && next.melody.is_none() && leader(song, bar).is_none();
    let of_form = |bar: &Bar| song.passes.get(bar.pass).is_some_and(|pass| pass.is_of_form());
    if !begins || !is_free(bar) || !is_free(next) || !of_form(bar) || !of_form(next) {
        return None;
    }
    let lead = leader(song, next).flatten()?;
    matches!(lead, Lead::Fiddle | Lead::Mandolin | Lead::Banjo | Lead::Resonator).then_some(lead)
}

/// What the notes of a bar, by its number among the arrangement's, are played on: by who leads there, or picks up.
pub(super) fn playing(song: &Arrangement, index: usize) -> Option<Leader> {
    let lead = picks_up(song, index).or_else(|| leader(song, song.bars.get(index)?).flatten());
    song.bars.get(index).map(|_| Leader::of(lead, song.capo))
}

/// The slots of all pickups.
pub(super) fn pickups(song: &Arrangement, seed: u64) -> Vec<Slot> {
    let bars = song.bars.iter().enumerate();
    bars.filter_map(|(index, bar)| Some(pickup(song, seed, index, bar, picks_up(song, index)?)))
        .flatten()
        .collect()
}

fn pickup(song: &Arrangement, seed: u64, index: usize, bar: &Bar, lead: Lead) -> Vec<Slot> {
    let leader = Leader::of(Some(lead), song.capo);
    let number = index as u32;
    let step = step(song, bar);
    let two = Hand { song, seed, leader: &leader }.dice(7, number, bar.end()) >= ONE;
    let places: &[i64] = match (lead, bar.gait) {
        // The hand chops the last beat.
        (Lead::Mandolin, _) => &[1],
        (_, Meter::SixEight) if !two => &[1],
        _ if two => &[2, 1],
        _ => &[2],
    };
    let slot = |before: &i64| {
        let at = bar.end() - step * *before;
        let place = at - bar.start;
        let sung = (0..*before).any(|more| bar.is_sung_at(place + step * more));
        let mut spans = bar.spans.clone();
        let begun = |span: &usize| song.spans.get(*span).is_some_and(|span| span.start <= at);
        let span = spans.rfind(begun)?;
        let has_chord = song.spans.get(span).is_some_and(|span| span.chord.is_some());
        let even = bar.gait == Meter::SixEight;
        let what = What::Note(Loud::Normal);
        (has_chord && !sung && place > Ticks::ZERO).then_some(Slot {
            at,
            even,
            bar: number,
            span,
            what,
        })
    };
    places.iter().filter_map(slot).collect()
}
