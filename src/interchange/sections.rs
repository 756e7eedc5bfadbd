//! Parts as sections of a chart.

use super::Remarks;
use super::bars::Cut;
use super::phrases::line_ends;
use super::tune::{Measure, Sounding, What};
use super::units::{EIGHTH, to_ticks};
use crate::chart::{ChartBar, Pickup, Share, Stop, Tune as Melody, melody_fits, pickup_fits};
use crate::theory::{Chord, MidiNote};
use crate::time::{BarMeter, Ticks};

/// Makes the bars of one part. `chord` is what sounded before it, and is left at what sounds after.
pub(super) fn section(
    cuts: &[Cut],
    keep_lines: bool,
    chord: &mut Option<Chord>,
    note: &mut Option<MidiNote>,
    measures: &[Measure],
    remarks: &mut Remarks,
) -> Vec<ChartBar> {
    let ends: Vec<bool> = cuts.iter().map(|cut| cut.line_end).collect();
    let jumps: Vec<bool> = cuts.iter().map(|cut| cut.jump).collect();
    let ends = line_ends(&ends, &jumps, keep_lines);
    let has_tune = has_tune(cuts);
    let mut bars: Vec<ChartBar> = Vec::with_capacity(cuts.len());
    let mut line = 0;
    let mut line_start = true;
    // What sounds on into the part is struck anew.
    let mut sounds = Carried { note: *note, sounds: false };
    for (cut, &line_end) in cuts.iter().zip(&ends) {
        let at = measures.get(cut.written).map_or(0, |measure| measure.span.start);
        let number = u32::try_from(cut.written + 1).ok();
        let (chords, moved) = chords(cut, chord);
        if moved {
            remarks.add(
                "a chord that comes between eighths stands on the eighth before",
                at,
                number,
            );
        }
        let melody = if has_tune {
            let (melody, rounded) = melody(cut.meter, &cut.notes, &mut sounds);
            if rounded {
                remarks.add("lengths that no melody row has are rounded", at, number);
            }
            melody
        } else {
            Vec::new()
        };
        bars.push(ChartBar {
            meter: cut.meter,
            chords,
            singing: vec![Share::new(cut.meter.bar(), !line_end)],
            stops: vec![Share::new(cut.meter.bar(), Stop::PlayOn)],
            melody,
            line,
            line_start,
            line_end,
        });
        line += u32::from(line_end);
        line_start = line_end;
    }
    *note = sounds.note;
    bars
}

/// The pickup of a part.
pub(super) fn pickup(
    cut: &Cut,
    has_tune: bool,
    chord: &mut Option<Chord>,
    note: &mut Option<MidiNote>,
) -> Pickup {
    let length = to_ticks(cut.pickup.unwrap_or_default());
    let own = cut.chords.last().and_then(|(_, chord)| *chord);
    *chord = own.or(*chord);
    let mut pickup = Pickup { length, chord: own, sings: true, melody: Vec::new() };
    if has_tune {
        for grid in GRIDS {
            let mut carried = Carried { note: *note, sounds: false };
            pickup.melody = laid(length, &cut.notes, grid, &mut carried);
            if pickup_fits(&pickup) {
                *note = carried.note;
                return pickup;
            }
        }
        pickup.melody = vec![Share::new(length, Melody::Rest)];
        *note = None;
    }
    pickup
}

/// True if a tune is written in some of them.
pub(super) fn has_tune(cuts: &[Cut]) -> bool {
    cuts.iter().flat_map(|cut| &cut.notes).any(|note| note.what != What::Blank)
}

/// What sounds into a bar.
#[derive(Clone, Copy, Debug)]
struct Carried {
    /// The note that may go on.
    note: Option<MidiNote>,
    /// False where it is of another part, and must be struck anew.
    sounds: bool,
}

/// Grids that lengths are rounded to where they come out on none: a twelfth of an eighth, a sixteenth.
const GRIDS: [i64; 3] = [1, 40, 240];

/// The chords of a bar; true if one had to be moved.
fn chords(cut: &Cut, chord: &mut Option<Chord>) -> (Vec<Share<Option<Chord>>>, bool) {
    let whole = cut.meter.bar();
    let mut shares: Vec<Share<Option<Chord>>> = Vec::new();
    let mut moved = false;
    let mut from = Ticks::ZERO;
    let mut push = |chord: Option<Chord>, from: Ticks, until: Ticks| {
        if until <= from {
            return;
        }
        match shares.last_mut() {
            Some(last) if last.value == chord => last.length += until - from,
            _ => shares.push(Share::new(until - from, chord)),
        }
    };
    for (at, next) in &cut.chords {
        let eighth = at.div_euclid(EIGHTH);
        moved |= at.rem_euclid(EIGHTH) != 0;
        let at = Ticks::EIGHTH * eighth;
        push(*chord, from, at);
        from = from.max(at);
        *chord = *next;
    }
    push(*chord, from, whole);
    (shares, moved)
}

/// The tune of a bar; true if its lengths had to be rounded. `carried` is what sounds into the bar.
fn melody(
    meter: BarMeter,
    notes: &[Sounding],
    carried: &mut Carried,
) -> (Vec<Share<Melody>>, bool) {
    let began = *carried;
    for (index, grid) in GRIDS.into_iter().enumerate() {
        *carried = began;
        let shares = laid(meter.bar(), notes, grid, carried);
        if melody_fits(meter, &shares) {
            return (shares, index > 0);
        }
    }
    *carried = Carried { note: None, sounds: false };
    (vec![Share::new(meter.bar(), Melody::Rest)], true)
}

fn laid(whole: Ticks, notes: &[Sounding], grid: i64, carried: &mut Carried) -> Vec<Share<Melody>> {
    let mut shares: Vec<Share<Melody>> = Vec::new();
    let mut at = 0;
    let on_grid = |units: i64| {
        let ticks = to_ticks(units).get();
        Ticks::new((ticks + grid / 2).div_euclid(grid) * grid).min(whole)
    };
    for note in notes {
        let (start, end) = (on_grid(at), on_grid(at + note.length));
        at += note.length;
        let length = end - start;
        if length <= Ticks::ZERO {
            continue;
        }
        let value = match note.what {
            What::Note(pitch) => Melody::Note(pitch),
            What::Hold if carried.sounds => Melody::Hold,
            What::Hold => carried.note.map_or(Melody::Rest, Melody::Note),
            What::Rest | What::Blank => Melody::Rest,
        };
        *carried = match value {
            Melody::Note(note) => Carried { note: Some(note), sounds: true },
            Melody::Hold => *carried,
            Melody::Rest => Carried { note: None, sounds: false },
        };
        match shares.last_mut() {
            Some(last)
                if value == Melody::Hold || value == Melody::Rest && last.value == Melody::Rest =>
            {
                last.length += length;
            }
            _ => shares.push(Share::new(length, value)),
        }
    }
    let filled: Ticks = shares.iter().map(|share| share.length).sum();
    if filled < whole {
        match shares.last_mut() {
            Some(last) if last.value == Melody::Rest => last.length += whole - filled,
            _ => shares.push(Share::new(whole - filled, Melody::Rest)),
        }
        *carried = Carried { note: None, sounds: false };
    }
    shares
}
