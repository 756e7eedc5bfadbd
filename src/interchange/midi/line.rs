//! A tune out of what a player played: on the grid again, one note at a time.

use crate::interchange::tune::{Sounding, What};
use crate::interchange::units::{QUARTER, times};
use crate::midi_file::Event;
use crate::theory::MidiNote;

/// A note as it was played, in ticks of the file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Played {
    pub start: u64,
    pub end: u64,
    pub pitch: MidiNote,
}

/// The notes of a track in the order in which they begin; of those that begin together the highest.
pub(super) fn notes(track: &[(u64, Event<'_>)], quarter: u64) -> Vec<Played> {
    let mut sounding: Vec<(u8, u8, u64)> = Vec::new();
    let mut out: Vec<Played> = Vec::new();
    for &(at, event) in track {
        let Event::Channel([status, key, velocity], 3) = event else { continue };
        let on = status >> 4 == 9 && velocity > 0;
        let off = status >> 4 == 8 || status >> 4 == 9 && velocity == 0;
        if !(on || off) {
            continue;
        }
        let channel = status & 0x0F;
        if let Some(place) =
            sounding.iter().position(|&(of, which, _)| (of, which) == (channel, key))
        {
            let (.., start) = sounding.swap_remove(place);
            if let Some(pitch) = MidiNote::new(key) {
                out.push(Played { start, end: at, pitch });
            }
        }
        if on {
            sounding.push((channel, key, at));
        }
    }
    out.sort_by_key(|note| (note.start, note.pitch));
    // A chord's strings follow each other within a sixteenth of a quarter.
    let together = quarter / 16;
    let mut line: Vec<Played> = Vec::new();
    for note in out {
        match line.last_mut() {
            Some(last) if note.start <= last.start + together => {
                *last = if note.pitch > last.pitch { note } else { *last };
            }
            _ => line.push(note),
        }
    }
    line
}

/// Where in a quarter its second half begins, in thousandths: the median of what lies between a straight eighth and a
/// dotted one, or 500 where that is rare.
pub(super) fn swing(notes: &[Played], quarter: u64) -> u64 {
    let place = |note: &Played| note.start % quarter * 1000 / quarter;
    let mut off: Vec<u64> =
        notes.iter().map(place).filter(|place| (450..720).contains(place)).collect();
    off.sort_unstable();
    match off.get(off.len() / 2) {
        Some(&median) if off.len() >= 4 && median > 530 => median,
        _ => 500,
    }
}

/// An end in sixteenths, at a quarter where it is a sixteenth off one: hands let go early and late.
const fn whole_quarter(at: i64) -> i64 {
    match at.rem_euclid(4) {
        3 => at + 1,
        1 => at - 1,
        _ => at,
    }
}

/// A bar's worth of a tune in units, on a grid of sixteenths, from `from` to `to` in ticks. What a note leaves before
/// the next by less than an eighth was its own length once.
pub(super) fn bar(notes: &[Played], from: u64, to: u64, quarter: u64, swing: u64) -> Vec<Sounding> {
    const SIXTEENTH: i64 = QUARTER / 4;
    let on_grid = |at: u64| {
        let (whole, rest) = (at / quarter, at % quarter * 1000 / quarter);
        // The swung second half is a straight one as it is written.
        let straight = if rest <= swing {
            rest * 500 / swing
        } else {
            500 + (rest - swing) * 500 / (1000 - swing)
        };
        let sixteenths = (straight * 4 + 500) / 1000;
        i64::try_from(whole * 4 + sixteenths).unwrap_or(0)
    };
    let length = |units: u64| {
        times(SIXTEENTH, i64::try_from(units * 4).unwrap_or(0), i64::try_from(quarter).unwrap_or(1))
    };
    let (begin, end) = (on_grid(from), on_grid(to));
    let whole = length(to - from);
    if begin >= end {
        return Vec::new();
    }
    let mut marks: Vec<(i64, i64, MidiNote)> = Vec::new();
    // They begin in order, and each is over when the next begins: only the last that began before can sound here.
    let first = notes.partition_point(|note| on_grid(note.start) <= begin).saturating_sub(1);
    for (index, note) in notes.iter().enumerate().skip(first) {
        let start = on_grid(note.start);
        if start >= end {
            break;
        }
        let next = notes.get(index + 1).map_or(i64::MAX, |next| on_grid(next.start));
        if start >= next {
            continue;
        }
        let stop = whole_quarter(on_grid(note.end)).max(start + 1);
        let stop = if next - stop <= 2 { next } else { stop }.min(next);
        if stop > begin && start < end {
            marks.push((start, stop, note.pitch));
        }
    }
    let mut out: Vec<Sounding> = Vec::new();
    let mut at = begin;
    let mut put = |from: i64, to: i64, what: What| {
        if to > from {
            out.push(Sounding { length: (to - from) * SIXTEENTH, what });
        }
    };
    for (start, stop, pitch) in marks {
        put(at, start, What::Rest);
        let what = if start < begin { What::Hold } else { What::Note(pitch) };
        put(start.max(begin), stop.min(end), what);
        at = stop.min(end);
    }
    put(at, end, What::Rest);
    // A bar that is no whole sixteenths long is as long as its signature says.
    let sum: i64 = out.iter().map(|sounding| sounding.length).sum();
    if let Some(last) = out.last_mut() {
        last.length += whole - sum;
    }
    out.retain(|sounding| sounding.length > 0);
    out
}
