//! Bars in the order played, made whole: what is cut by a repeat sign is one bar again, and lengths are a chart's.

use super::Remarks;
use super::fit::{Fit, next_length};
use super::play_order::Played;
use super::tune::{Measure, Sounding, TimeSignature, What};
use super::units::{EIGHTH, of_ticks, times};
use crate::theory::Chord;
use crate::time::Meter;

/// A bar of a part as played.
#[derive(Clone, Debug)]
pub(super) struct Bar {
    /// The part it belongs to, in the order played.
    pub part: usize,
    /// The written bar, from 0.
    pub written: usize,
    pub time: TimeSignature,
    pub notes: Vec<Sounding>,
    /// Where chords begin.
    pub chords: Vec<(i64, Option<Chord>)>,
    pub length: i64,
    /// The file has the end of a line after it.
    pub line_end: bool,
    /// What follows in time stands further up on the page, or in another part.
    pub jump: bool,
    /// It is shorter than its signature, and leads into what follows.
    pub pickup: bool,
}

/// All bars as played, short ones joined: the last bar of a part and the pickup of the next are one bar.
pub(super) fn joined(measures: &[Measure], parts: &[Played]) -> Vec<Bar> {
    let mut out: Vec<Bar> = Vec::new();
    for (index, part) in parts.iter().enumerate() {
        for (place, &at) in part.bars.iter().enumerate() {
            let Some(measure) = measures.get(at) else { continue };
            let next = part.bars.get(place + 1);
            let bar = Bar {
                part: index,
                written: at,
                time: measure.time,
                notes: measure.notes.clone(),
                chords: measure.chords.clone(),
                length: measure.length(),
                line_end: measure.line_end,
                jump: next.is_none_or(|next| *next <= at),
                pickup: false,
            };
            if bar.length == 0 {
                continue;
            }
            match out.last_mut().filter(|_| out_len_is_inner(place, index)) {
                Some(last) if makes_whole(last, &bar) => join(last, bar),
                _ => out.push(bar),
            }
        }
    }
    // What is short at the head of a part leads in.
    let last = out.len().saturating_sub(1);
    let heads: Vec<bool> = (0..out.len()).map(|at| at == 0 || begins_part(&out, at)).collect();
    for (at, (bar, head)) in out.iter_mut().zip(heads).enumerate() {
        bar.pickup = head && at < last && !bar.time.free && bar.length < bar.time.length();
    }
    out
}

/// True for every bar but the second: the first is a pickup, which the next never completes.
const fn out_len_is_inner(place: usize, part: usize) -> bool {
    part > 0 || place != 1
}

fn makes_whole(last: &Bar, next: &Bar) -> bool {
    let whole = next.time.length();
    let same = last.time == next.time && !next.time.free;
    same && last.length < whole && next.length < whole && last.length + next.length == whole
}

fn join(last: &mut Bar, next: Bar) {
    let by = last.length;
    last.notes.extend(next.notes);
    last.chords.extend(next.chords.into_iter().map(|(at, chord)| (at + by, chord)));
    last.length += next.length;
    last.line_end |= last.jump;
    last.line_end |= next.line_end;
}

/// Which fit does for most bars: the signature's own, or with lengths twice as long where many bars would not come
/// out.
pub(super) fn fit(bars: &[Bar], time: TimeSignature) -> Fit {
    let plain = Fit::of(time);
    let inner = bars.get(1..bars.len().saturating_sub(1)).unwrap_or_default();
    let odd = |fit: Fit| {
        inner
            .iter()
            // A pickup need be no bar.
            .filter(|bar| !bar.pickup)
            .filter(|bar| fit.bars(fit.scaled(bar.length), fit.own(bar.time)).is_none())
            .count()
    };
    // A few bars are slips of the pen, and a rest makes them whole.
    let many = |count: usize| count * 5 > inner.len();
    if many(odd(plain)) && !many(odd(plain.doubled())) { plain.doubled() } else { plain }
}

/// A bar of the chart to be.
#[derive(Clone, Debug)]
pub(super) struct Cut {
    pub part: usize,
    pub written: usize,
    pub meter: Meter,
    pub notes: Vec<Sounding>,
    pub chords: Vec<(i64, Option<Chord>)>,
    pub line_end: bool,
    pub jump: bool,
    /// It is a pickup of this length, in units, and no bar.
    pub pickup: Option<i64>,
}

/// A pickup as a chart has it: whole eighths, less than a bar. `None` where it is longer.
fn pickup(bar: &Bar, fit: Fit, notes: &[Sounding], chords: &[(i64, Option<Chord>)]) -> Option<Cut> {
    let length: i64 = notes.iter().map(|note| note.length).sum();
    let whole = (length + EIGHTH - 1).div_euclid(EIGHTH) * EIGHTH;
    let mut notes = notes.to_vec();
    if whole > length {
        notes.insert(0, Sounding { length: whole - length, what: What::Rest });
    }
    (whole > 0 && whole < of_ticks(fit.meter.bar())).then(|| Cut {
        part: bar.part,
        written: bar.written,
        meter: fit.meter,
        notes,
        chords: chords.to_vec(),
        line_end: false,
        jump: false,
        pickup: Some(whole),
    })
}

/// The notes of a bar that begin in its last `pickup` units, where a pickup comes over them.
fn under(before: &Cut, pickup: i64) -> Vec<Sounding> {
    let from = before.notes.iter().map(|note| note.length).sum::<i64>() - pickup;
    let mut at = 0;
    let starts = before.notes.iter().map(|note| {
        let start = at;
        at += note.length;
        (start, *note)
    });
    let begun =
        starts.skip_while(|(start, note)| *start < from || !matches!(note.what, What::Note(_)));
    begun.map(|(_, note)| note).collect()
}

/// What sounds where a pickup comes over the end of a bar that has notes there: they, and then it, in its time. What has
/// the same notes is a pickup that is written at both places.
fn with_what_is_under(pickup: &mut Cut, before: &Cut) -> &'static str {
    const OVER: &str = "the pickup sounds over the end of the bar before, which is whole";
    let Some(length) = pickup.pickup.filter(|_| before.pickup.is_none()) else { return OVER };
    let under = under(before, length);
    let pitches = |notes: &[Sounding]| -> Vec<What> {
        notes.iter().map(|note| note.what).filter(|what| matches!(what, What::Note(_))).collect()
    };
    if under.is_empty() {
        return OVER;
    }
    if pitches(&under) == pitches(&pickup.notes) {
        return "the pickup is written at the end of the bar before as well, and sounds once";
    }
    let lead_in = pickup.notes.iter().position(|note| note.what != What::Rest).unwrap_or(0);
    let own = pickup.notes.get(lead_in..).unwrap_or_default();
    let all: Vec<Sounding> = under.iter().chain(own).copied().collect();
    let sum: i64 = all.iter().map(|note| note.length).sum();
    pickup.notes = all
        .into_iter()
        .map(|note| Sounding { length: times(note.length, length, sum), ..note })
        .collect();
    "the pickup sounds over the end of the bar before, which is whole, with the notes of that bar that begin there, all in \
     its time"
}

/// Brings all bars to meters of the chart. What has to be filled with rests for that is said.
pub(super) fn cut(bars: &[Bar], fit: Fit, measures: &[Measure], remarks: &mut Remarks) -> Vec<Cut> {
    let mut out = Vec::new();
    let last = bars.len().saturating_sub(1);
    for (index, bar) in bars.iter().enumerate() {
        let mut notes: Vec<Sounding> = bar
            .notes
            .iter()
            .map(|note| Sounding { length: fit.scaled(note.length), what: note.what })
            .collect();
        let mut chords: Vec<(i64, Option<Chord>)> =
            bar.chords.iter().map(|(at, chord)| (fit.scaled(*at), *chord)).collect();
        // Rounded lengths may differ from the rounded sum by a unit a note.
        let length: i64 = notes.iter().map(|note| note.length).sum();
        if bar.pickup
            && let Some(mut cut) = pickup(bar, fit, &notes, &chords)
        {
            if let Some(before) = out.last() {
                let at = measures.get(bar.written).map_or(0, |measure| measure.span.start);
                let words = with_what_is_under(&mut cut, before);
                remarks.add(words, at, u32::try_from(bar.written + 1).ok());
            }
            out.push(cut);
            continue;
        }
        let whole = of_ticks(fit.meter.bar());
        let short = !bar.time.free && bar.length < bar.time.length();
        let edge = bar.pickup || index == last && short;
        let meters = match fit.bars(length, fit.own(bar.time)) {
            Some(meters) if !edge => meters,
            _ => {
                let wanted = if edge && length <= whole { whole } else { next_length(length) };
                let blank = notes.iter().all(|note| note.what == What::Blank);
                let what = if blank { What::Blank } else { What::Rest };
                let rest = Sounding { length: wanted - length, what };
                let leads_in = bar.pickup || begins_part(bars, index);
                if leads_in {
                    notes.insert(0, rest);
                    chords.iter_mut().for_each(|(at, _)| *at += rest.length);
                } else {
                    notes.push(rest);
                }
                let at = measures.get(bar.written).map_or(0, |measure| measure.span.start);
                if !edge {
                    let words =
                        "the bar has a length that no bar of a chart has, and a rest fills it up";
                    remarks.add(words, at, u32::try_from(bar.written + 1).ok());
                }
                fit.bars(wanted, None).unwrap_or_default()
            }
        };
        slice(bar, &notes, &chords, &meters, &mut out);
    }
    out
}

fn begins_part(bars: &[Bar], index: usize) -> bool {
    let before = index.checked_sub(1).and_then(|before| bars.get(before));
    before.is_some_and(|before| bars.get(index).is_some_and(|bar| bar.part != before.part))
}

/// Cuts a bar into bars of `meters`.
fn slice(
    bar: &Bar,
    notes: &[Sounding],
    chords: &[(i64, Option<Chord>)],
    meters: &[Meter],
    out: &mut Vec<Cut>,
) {
    let mut start = 0;
    let mut left: Vec<Sounding> = notes.iter().rev().copied().collect();
    for (index, meter) in meters.iter().enumerate() {
        let length = of_ticks(meter.bar());
        let ends = index + 1 == meters.len();
        let mut own = Vec::new();
        let mut filled = 0;
        while filled < length {
            let Some(note) = left.pop() else {
                own.push(Sounding { length: length - filled, what: What::Rest });
                break;
            };
            let here = note.length.min(length - filled);
            own.push(Sounding { length: here, what: note.what });
            filled += here;
            if here < note.length {
                let what = match note.what {
                    What::Note(_) | What::Hold => What::Hold,
                    other => other,
                };
                left.push(Sounding { length: note.length - here, what });
            }
        }
        let within = chords.iter().filter(|(at, _)| (start..start + length).contains(at));
        out.push(Cut {
            part: bar.part,
            written: bar.written,
            meter: *meter,
            notes: own,
            chords: within.map(|(at, chord)| (at - start, *chord)).collect(),
            line_end: ends && bar.line_end,
            jump: ends && bar.jump,
            pickup: None,
        });
        start += length;
    }
}
