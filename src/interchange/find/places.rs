use super::numbers::{At, Struck};
use crate::chart::{ChartBar, Tune};
use crate::theory::MidiNote;
use crate::time::{BarMeter, Crooked, Meter, Ticks};

/// Where a chord may stand: a bar, or the half of one.
#[derive(Clone, Debug)]
pub(super) struct Place {
    /// Which bar of the part.
    pub bar: usize,
    /// How long it lasts.
    pub length: Ticks,
    /// Where it is in its phrase.
    pub at: At,
    /// What sounds in it.
    pub notes: Vec<Note>,
}

/// A note as far as it sounds in a place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Note {
    pub class: u8,
    pub struck: Struck,
    /// What its cost is multiplied by, in hundredths.
    pub weight: i32,
}

/// What a note's cost is multiplied by, by how many twelfths of its place it fills: 220 (n/12)^0.7, in hundredths. A long
/// note says more than a short one, but not by as much as it is longer; 0.7 and 220 are those that found most chords of
/// charts that were held out of the count.
const WEIGHTS: [i32; 13] = [0, 39, 63, 83, 102, 119, 135, 151, 166, 180, 194, 207, 220];

/// In how many places a bar is cut.
const fn places_of(meter: BarMeter) -> i64 {
    match meter {
        BarMeter::Of(Meter::FourFour | Meter::TwoTwo | Meter::TwoFour | Meter::SixEight) => 2,
        // In halves of three beats. Half of five would be off the beat.
        BarMeter::Crooked(Crooked::SixFour) => 2,
        BarMeter::Of(Meter::ThreeFour) | BarMeter::Crooked(_) => 1,
    }
}

/// What divides a place into its beats.
const fn beat_of(meter: BarMeter) -> Ticks {
    match meter {
        BarMeter::Of(Meter::FourFour | Meter::TwoTwo | Meter::ThreeFour) => Ticks::QUARTER,
        BarMeter::Of(Meter::TwoFour | Meter::SixEight) => Ticks::EIGHTH,
        BarMeter::Crooked(_) if meter.denominator() == 4 => Ticks::QUARTER,
        BarMeter::Crooked(_) => Ticks::EIGHTH,
    }
}

/// The places of some bars.
pub(super) fn places(bars: &[ChartBar]) -> Vec<Place> {
    let mut out = Vec::new();
    let mut sounds: Option<MidiNote> = None;
    let mut in_line = 0_usize;
    for (index, bar) in bars.iter().enumerate() {
        in_line = if bar.line_start { 0 } else { in_line + 1 };
        // Each note from when to when; what is held goes on from the bar before.
        let mut notes = Vec::with_capacity(bar.melody.len());
        let mut at = Ticks::ZERO;
        for share in &bar.melody {
            let end = at + share.length;
            let began = match share.value {
                Tune::Note(note) => {
                    sounds = Some(note);
                    at
                }
                // Before the bar.
                Tune::Hold => Ticks::ZERO - Ticks::EIGHTH,
                Tune::Rest => {
                    sounds = None;
                    at
                }
            };
            if let Some(note) = sounds {
                notes.push((note, began, at, end));
            }
            at = end;
        }
        let count = places_of(bar.meter);
        let length = Ticks::new(bar.meter.bar().get() / count);
        for half in 0..count {
            let start = length * half;
            let until = start + length;
            let within = notes.iter().filter(|(_, _, from, to)| *from < until && *to > start);
            let notes = within.map(|&(note, began, from, to)| {
                let lasts = (to.min(until) - from.max(start)).get();
                let twelfths =
                    (24 * lasts + length.get()).div_euclid(2 * length.get()).clamp(1, 12);
                let weight = usize::try_from(twelfths).ok().and_then(|at| WEIGHTS.get(at));
                let struck = if began <= start {
                    Struck::Head
                } else if (began - start).get() % beat_of(bar.meter).get() == 0 {
                    Struck::Beat
                } else {
                    Struck::Off
                };
                Note { class: note.pitch_class(), struck, weight: weight.copied().unwrap_or(0) }
            });
            let at = match (half, in_line % 4) {
                (1.., _) => At::Within,
                (_, 0) => At::Head,
                (_, 1) => At::Second,
                (_, 2) => At::Third,
                _ => At::Fourth,
            };
            out.push(Place { bar: index, length, at, notes: notes.collect() });
        }
    }
    out
}
