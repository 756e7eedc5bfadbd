use crate::chart::{Bar, Ending, Share, Stop};
use crate::theory::{Chord, Key, Quality};
use crate::time::{Meter, Ticks};

/// The bars after the form. `hit`: one bar, the home chord. `tag`: a bar of home and its dominant,
/// then the hit.
pub(super) fn ending_bars(ending: Ending, meter: Meter, key: Key) -> Vec<Bar> {
    let home = key.tonic_chord();
    match ending {
        Ending::None => Vec::new(),
        Ending::Hit => vec![bar(meter, vec![home])],
        Ending::Tag => {
            let dominant = Chord { root: key.scale()[4], quality: Quality::MAJOR, bass: None };
            let halves =
                meter.bar().split(2).is_some_and(|half| half.is_multiple_of(Ticks::EIGHTH));
            // Three beats have no middle: the whole bar is the dominant's.
            let lead_in = if halves && meter != Meter::ThreeFour {
                vec![home, dominant]
            } else {
                vec![dominant]
            };
            vec![bar(meter, lead_in), bar(meter, vec![home])]
        }
    }
}

fn bar(meter: Meter, chords: Vec<Chord>) -> Bar {
    let length = meter.bar().split(chords.len() as i64).unwrap_or(meter.bar());
    Bar {
        meter,
        chords: chords.into_iter().map(|chord| Share { length, value: Some(chord) }).collect(),
        singing: vec![Share { length: meter.bar(), value: false }],
        stops: vec![Share { length: meter.bar(), value: Stop::PlayOn }],
        line: 0,
        line_start: true,
        line_end: true,
    }
}
