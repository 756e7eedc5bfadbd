//! A banjo's lead where no tune is written: a line on the beats, broken as a tune is.

use super::event::Event;
use super::neck::Place;
use super::part::Part;
use super::stroke::{Does, Others, Stroke};
use super::tone::Tone;
use crate::arrange::MelodyNote;
use crate::band::Lead;
use crate::perform::choice::Seat;

/// The bars that are rolled, and the line in them.
#[derive(Clone, Debug, Default)]
pub(super) struct Rolled {
    pub bars: Vec<usize>,
    pub line: Vec<MelodyNote>,
}

/// The bars of a banjo's own break that it rolls: those without a stop or a rest of the chord.
pub(super) fn rolled(seat: &Seat<'_>, events: &[Event]) -> Rolled {
    let song = seat.song;
    let mut out = Rolled::default();
    for event in events {
        let Event::Tone(tone) = event else { continue };
        let index = tone.bar as usize;
        let Some(bar) = song.bars.get(index) else { continue };
        let lead = song.passes.get(bar.pass).and_then(|pass| pass.lead);
        let spans = song.spans.get(bar.spans.clone()).unwrap_or_default();
        let whole = bar.stops.is_empty() && spans.iter().all(|span| span.chord.is_some());
        if tone.written || lead != Some(Lead::Banjo) || !whole {
            continue;
        }
        if out.bars.last() != Some(&index) {
            out.bars.push(index);
        }
        out.line.push(MelodyNote { start: tone.at, end: tone.end, pitch: tone.pitch, tied: false });
    }
    out
}

/// What is not rolled: note by note, each until the next, which a roll may be.
pub(super) fn play(part: &Part<'_>) -> Vec<Stroke> {
    let both = |(_, tone, place): (usize, &Tone, Place)| {
        let stop = Stroke::silent(tone.end, tone.bar, Does::Stop);
        [Part::plain(tone, place, Others::Stop), stop]
    };
    part.notes().flat_map(both).collect()
}
