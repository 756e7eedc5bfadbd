use super::dice::{dice, line_of};
use super::slot::{FASTEST_MILLIS, is_heard, place};
use super::table::{PatternTable, Row};
use crate::arrange::{Arrangement, Bar, BarKind, Span};
use crate::style::{BassNote, Slot, Strike};
use crate::theory::lead_in;
use crate::time::{Meter, Ticks};

/// The most notes that lead in, in a second: as fast as a band's guitar runs (common practice, no source).
const MOST_A_SECOND: f64 = 9.0;

/// Puts what leads into each change of a bar into the slots before it.
pub(super) fn lead_in_slots(song: &Arrangement, index: usize, seed: u64, slots: &mut [Slot]) {
    let Some(bar) = song.bars.get(index) else { return };
    let Some(count) = i64::try_from(slots.len()).ok().filter(|count| *count > 0) else { return };
    let slot = Ticks::new(bar.meter.bar().get() / count);
    for (from, to) in changes(song, bar, song.bars.get(index + 1)) {
        // The slots in which the chord sounds.
        let sounds = |at: &usize| (from.start..to.start).contains(&place(bar, slot, *at));
        let own: Vec<usize> = (0..slots.len()).filter(sounds).collect();
        let rows = fitting(song, bar.meter, slot, own.len());
        let roll = dice(seed, [u64::from(b'>'), line_of(song, bar), bar.turn as u64]);
        let Some(row) = rows.get((roll % rows.len().max(1) as u64) as usize) else { continue };
        let first = own.len().saturating_sub(row.slots.len());
        for (&at, &leads) in own.iter().skip(first).zip(&row.slots) {
            if let Some(slot) = slots.get_mut(at) {
                *slot = leads;
            }
        }
    }
}

/// The changes that a bar leads into: the chord before, held to the bar, and the one after.
fn changes<'a>(
    song: &'a Arrangement,
    bar: &'a Bar,
    next: Option<&'a Bar>,
) -> impl Iterator<Item = (Span, Span)> + 'a {
    let last = bar.spans.end;
    let heard = next.is_some_and(|next| {
        let waits = matches!(next.kind, BarKind::Groove | BarKind::FinalHit);
        waits && bar.facts.change_next && is_heard(song, next)
    });
    bar.spans.clone().filter_map(move |span| {
        let (from, to) = (*song.spans.get(span)?, *song.spans.get(span + 1)?);
        if to.start > bar.end() || (span + 1 == last && !(heard && to.start == bar.end())) {
            return None;
        }
        let (old, new) = (song.chord(from.chord?)?, song.chord(to.chord?)?);
        let held = Span { start: from.start.max(bar.start), ..from };
        (!lead_in(old, new, 1, song.key).is_empty()).then_some((held, to))
    })
}

/// The lead-ins for which there are slots and time: at most half of the chord's, and no faster than a hand goes.
fn fitting(song: &Arrangement, meter: Meter, slot: Ticks, slots: usize) -> Vec<&'static Row> {
    let millis = song.pace.nanos(slot).seconds() * 1000.0;
    let of_time = |row: &&Row| {
        let notes = row.slots.iter().enumerate().filter(|(_, slot)| leads(**slot));
        let at: Vec<usize> = notes.map(|(at, _)| at).chain([row.slots.len()]).collect();
        let shortest = at.iter().zip(at.iter().skip(1)).map(|(one, next)| next - one).min();
        shortest.is_some_and(|gap| gap as f64 * millis * MOST_A_SECOND >= 1000.0)
    };
    let room = |row: &&Row| row.slots.len() * 2 <= slots;
    PatternTable::ours()
        .lead_ins(meter, millis < FASTEST_MILLIS)
        .filter(room)
        .filter(of_time)
        .collect()
}

const fn leads(slot: Slot) -> bool {
    matches!(slot, Slot::Strike(Strike { bass: Some(BassNote::Walk), .. }))
}
