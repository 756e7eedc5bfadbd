//! Bars in the order played, made whole: what is cut by a repeat sign is one bar again, and lengths are a chart's.

use super::Remarks;
use super::fit::{Fit, Own, next_length, signature_of};
use super::lead_in::makes_longer;
use super::play_order::Played;
use super::tune::{Measure, Sounding, TimeSignature, What};
use super::units::{EIGHTH, of_ticks, times};
use crate::theory::Chord;
use crate::time::BarMeter;

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
    /// The pickup after it is a part of it, and both together are no bar of its meter.
    pub holds_pickup: bool,
}

/// All bars as played, short ones joined: the last bar of a part and the pickup of the next are one bar.
/// A pickup under which the bar before sounds on is joined to it too: the bar is longer, as it is written. So is one that
/// does not make a short bar whole.
pub(super) fn joined(measures: &[Measure], parts: &[Played], time: TimeSignature) -> Vec<Bar> {
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
                holds_pickup: false,
            };
            if bar.length == 0 {
                continue;
            }
            match out.last_mut().filter(|_| out_len_is_inner(place, index)) {
                Some(last) if makes_whole(last, &bar) => join(last, bar),
                Some(last) if Some(&at) == part.bars.first() && holds(last, measure, time) => {
                    last.holds_pickup = true;
                    join(last, bar);
                }
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

fn holds(last: &Bar, pickup: &Measure, time: TimeSignature) -> bool {
    let same = last.time == pickup.time && !last.holds_pickup;
    same && makes_longer((&last.notes, last.length), pickup, time)
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
/// out. Where that is another usual way to write the same meter, one bar that would not come out is enough.
pub(super) fn fit(bars: &[Bar], time: TimeSignature) -> Fit {
    let plain = Fit::of(time);
    let count = |fit: Fit, is: fn(&Bar, Fit) -> bool| {
        let bars = paired(bars, fit);
        let inner = bars.get(1..bars.len().saturating_sub(1)).unwrap_or_default();
        inner.iter().filter(|bar| is(bar, fit)).count()
    };
    let odd = |fit| count(fit, is_odd);
    let lost = |fit| count(fit, is_lost);
    // A few bars are slips of the pen, and a rest makes them whole.
    let many = |count: usize| count * 5 > bars.len().saturating_sub(2);
    let by_plain = odd(plain);
    match plain.in_longer_values() {
        Some(longer) if by_plain > 0 && odd(longer) == 0 => longer,
        Some(longer) if by_plain > 0 && lost(plain) > 0 && lost(longer) == 0 => longer,
        _ if many(lost(plain)) && !many(lost(plain.doubled())) => plain.doubled(),
        _ => plain,
    }
}

/// True if no meters of songs are as long as it. A pickup need be no bar.
fn is_odd(bar: &Bar, fit: Fit) -> bool {
    !bar.pickup && fit.plain(fit.scaled(bar.length), fit.own(bar.time, bar.length)).is_none()
}

/// True if a chart has no bars at all of its length.
fn is_lost(bar: &Bar, fit: Fit) -> bool {
    !bar.pickup && fit.bars(fit.scaled(bar.length), Own::default()).is_none()
}

/// The bars, each that a chart has none for as one with the bar beside it, where it has some for both: a bar line that is
/// an eighth off its place, or a quarter alone. So every note keeps its time.
pub(super) fn paired(bars: &[Bar], fit: Fit) -> Vec<Bar> {
    let mut out: Vec<Bar> = Vec::with_capacity(bars.len());
    let short = |bar: &Bar| !bar.time.free && bar.length < bar.time.length();
    let mut at = 0;
    while let Some(bar) = bars.get(at) {
        at += 1;
        // What a song begins and ends with is filled up as it is: nothing stands before and after it.
        if at == 1 || at == bars.len() || !is_odd(bar, fit) {
            out.push(bar.clone());
            continue;
        }
        let next = bars.get(at).filter(|next| at + 1 < bars.len() || !short(next));
        if let Some(next) = next.filter(|next| come_out(bar, next, fit)) {
            let mut both = bar.clone();
            both.jump = next.jump;
            join(&mut both, next.clone());
            both.line_end = next.line_end;
            out.push(both);
            at += 1;
            continue;
        }
        match out.last_mut().filter(|last| come_out(last, bar, fit)) {
            Some(last) => {
                join(last, bar.clone());
                last.jump = bar.jump;
                last.line_end = bar.line_end;
            }
            None => out.push(bar.clone()),
        }
    }
    out
}

/// True if one bar follows the other on the page and in its part, and a chart has bars for both together.
fn come_out(bar: &Bar, next: &Bar, fit: Fit) -> bool {
    let follows = bar.part == next.part && bar.written + 1 == next.written;
    let plain = !bar.pickup && !next.pickup;
    follows && plain && fit.plain(fit.scaled(bar.length + next.length), Own::default()).is_some()
}

/// A bar of the chart to be.
#[derive(Clone, Debug)]
pub(super) struct Cut {
    pub part: usize,
    pub written: usize,
    pub meter: BarMeter,
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
        meter: fit.meter.into(),
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
        if let Some(words) = without_rest_too_much(bar, &mut notes, fit) {
            let at = measures.get(bar.written).map_or(0, |measure| measure.span.start);
            remarks.add(words, at, u32::try_from(bar.written + 1).ok());
        }
        // Rounded lengths may differ from the rounded sum by a unit a note.
        let length: i64 = notes.iter().map(|note| note.length).sum();
        if bar.holds_pickup && bar.length % bar.time.length() != 0 {
            let at = measures.get(bar.written).map_or(0, |measure| measure.span.start);
            let words = format!(
                "the bar and the pickup after it are {} together, as it is written",
                signature_of(bar.length)
            );
            remarks.add(words, at, u32::try_from(bar.written + 1).ok());
        }
        // Without a meter nothing says that a bar is short; what no bar has and the song begins with leads in.
        let leads_in = bar.pickup || index == 0 && last > 0 && bar.time.free && is_odd(bar, fit);
        if leads_in && let Some(mut cut) = pickup(bar, fit, &notes, &chords) {
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
        let meters = match fit.bars(length, fit.own(bar.time, bar.length)) {
            Some(meters) if !edge => meters,
            _ => {
                // What is short lacks something of a whole bar.
                let lacks = edge || short;
                let wanted = if lacks && length <= whole { whole } else { next_length(length) };
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
                    let length = signature_of(bar.length);
                    let words = format!(
                        "the bar has {length}, a length that no bar of a chart has, and a rest fills it up"
                    );
                    remarks.add(words, at, u32::try_from(bar.written + 1).ok());
                }
                fit.bars(wanted, Own { is_full: edge, ..Own::default() }).unwrap_or_default()
            }
        };
        slice(bar, &notes, &chords, &meters, &mut out);
    }
    out
}

/// Takes what is too much out of the rest that a bar ends with, where that makes it whole: as what is written for a fermata
/// at the end of a part. Filled up instead, it would be another short bar.
fn without_rest_too_much(bar: &Bar, notes: &mut Vec<Sounding>, fit: Fit) -> Option<String> {
    let too_much = fit.scaled(bar.length) - fit.scaled(bar.time.length());
    let whole = fit.scaled(bar.time.length());
    let sounds = notes.iter().any(|note| matches!(note.what, What::Note(_)));
    let chord_there = bar.chords.iter().any(|(at, _)| fit.scaled(*at) >= whole);
    if bar.time.free || too_much <= 0 || !is_odd(bar, fit) || !sounds || chord_there {
        return None;
    }
    // A rest that is not shown is one of those.
    let silent = |what| matches!(what, What::Rest | What::Blank);
    let last = notes.last_mut().filter(|last| silent(last.what) && last.length >= too_much)?;
    last.length -= too_much;
    notes.retain(|note| note.length > 0);
    let length = signature_of(bar.length);
    Some(format!("the bar has {length}, and of the rest at its end what is too much is left out"))
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
    meters: &[BarMeter],
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

#[cfg(test)]
mod tests {
    use crate::chart::Song;
    use crate::interchange::{Remark, read_abc};
    use crate::text::Source;
    use crate::time::{Meter, Ticks};

    /// The song of a tune, and what is said of lengths.
    fn song(meter: &str, body: &str) -> (Song, Vec<String>) {
        let text = format!("X:1\nT:x\nM:{meter}\nL:1/8\nK:C\n{body}\n");
        let (song, said) =
            read_abc(&Source::new("x", text).unwrap(), None).tunes[0].song().unwrap();
        let said = said.all().iter().map(Remark::sentence);
        (song, said.filter(|words| words.contains("fills it up")).collect())
    }

    fn eighths(song: &Song) -> Vec<i64> {
        let bars = song.sections.iter().flat_map(|section| &section.bars);
        bars.map(|bar| bar.meter.bar().get() / Ticks::EIGHTH.get()).collect()
    }

    #[test]
    fn a_bar_line_off_its_place_moves_no_note() {
        // Seven and nine eighths are two bars together.
        let (of, said) = song("4/4", "C8|D8|E7|F9|G8|A8|]");
        assert_eq!((eighths(&of), said), (vec![8; 6], vec![]));
        // A quarter alone goes with the bar before it.
        let (of, said) = song("4/4", "C8|D8|E2|F8|G8|A8|]");
        assert_eq!((eighths(&of), said), (vec![8, 8, 10, 8, 8], vec![]));
        // Nothing is beside it that makes it come out: it is a short bar.
        let (of, said) = song("6/8", "C6|D6|E5|F6|G6|A6|B6|c6|]");
        assert_eq!((eighths(&of), said), (vec![6, 6, 5, 6, 6, 6, 6, 6], vec![]));
        // No bar has half an eighth.
        let (of, said) = song("6/8", "C6|D6|E11/2|F6|G6|A6|B6|c6|]");
        assert_eq!(eighths(&of), [6; 8]);
        let words =
            "bar 3: the bar has 11/16, a length that no bar of a chart has, and a rest fills it up";
        assert_eq!(said, [words]);
        // A rest at its end is what is too much.
        let (of, said) = song("4/4", "C8|D8|E8z|F8|G8|A8|B8|c8|]");
        assert_eq!((eighths(&of), said), (vec![8; 8], vec![]));
        let (of, said) = song("4/4", "C8|D8|E8x|F8|G8|A8|B8|c8|]");
        assert_eq!((eighths(&of), said), (vec![8; 8], vec![]));
    }

    #[test]
    fn a_meter_of_short_notes_is_written_in_longer_ones_where_that_keeps_every_note() {
        let (of, said) = song("2/4", "CDEF|GABc|cBA|CDEF|GABc|c4|]");
        assert_eq!((of.meter, said), (Meter::FourFour, vec![]));
        assert_eq!(eighths(&of), [8, 8, 6, 8, 8, 8]);
        // Where all bars come out, it stays as it is.
        let (of, _) = song("2/4", "CDEF|GABc|cBAG|CDEF|GABc|c4|]");
        assert_eq!(of.meter, Meter::TwoFour);
        let (of, said) = song("6/4", "C12|D12|E6|F12|G12|A12|]");
        assert_eq!((of.meter, said), (Meter::ThreeFour, vec![]));
        assert_eq!(eighths(&of).iter().sum::<i64>(), 66);
    }

    #[test]
    fn what_leads_into_a_tune_without_meter_is_a_pickup() {
        let (of, said) = song("none", "G2|C2D2E2F2|G4C4|C8|C8|]");
        let pickup = of.sections[0].pickup.as_ref().unwrap();
        assert_eq!(pickup.length.get(), Ticks::QUARTER.get());
        assert_eq!((eighths(&of), said), (vec![8; 4], vec![]));
    }
}
