//! The break as a band plays it that has a banjo to lead.

use super::grid::TuneLine;
use super::{TuneLevel, TuneStep, steps_of};
use crate::arrange::{Arrangement, BarKind, MelodyNote};
use crate::band::Lead;
use crate::chart::Role;
use crate::perform::Note;
use crate::perform::choice::Seat;
use crate::perform::cue::{Act, Cue};
use crate::perform::cues::cues;
use crate::perform::feel::Feel;
use crate::perform::hands::banjo::{BanjoDrafts, Ends, Held, Slur, sound};
use crate::theory::fretboard::banjo::{BanjoHand, Pluck, Way, choose_banjo_capo};
use crate::time::Meter;

/// The bars in which a role of the band plays a written tune on the banjo.
pub(in crate::perform) fn breaks(song: &Arrangement, role: Role) -> Vec<usize> {
    let plays = |index: &usize| {
        song.bars.get(*index).is_some_and(|bar| {
            let lead = song.passes.get(bar.pass).and_then(|pass| pass.lead);
            let written = bar.melody.is_some() && bar.kind == BarKind::Groove;
            written && lead == Some(Lead::Banjo) && !bar.resting.contains(role)
        })
    };
    (0..song.bars.len()).filter(plays).collect()
}

/// The notes of some bars: the fullest break of their written tune, or of a line in its place.
pub(in crate::perform) fn play(
    seat: &Seat<'_>,
    bars: &[usize],
    made: Option<&[MelodyNote]>,
    feel: Feel,
) -> Vec<Note> {
    let song = seat.song;
    let capo = choose_banjo_capo(song.key);
    let line = made.map_or(TuneLine::Written, TuneLine::Made);
    let mut steps = steps_of(song, bars, line, capo, TuneLevel::Slurred);
    if let Some(made) = made {
        // A break that is over is not rolled on.
        let ends = |bar: usize| bars.binary_search(&(bar + 1)).is_err();
        let over = |step: &TuneStep| {
            let last = made.iter().rfind(|note| note.start <= step.at);
            last.is_none_or(|note| note.end <= step.at)
        };
        steps.retain(|step| !(ends(step.bar) && over(step)));
    }
    if steps.is_empty() {
        return Vec::new();
    }
    let mut drafts = BanjoDrafts::default();
    let mut ahead = steps.iter().peekable();
    cues(seat, |cue| {
        while let Some(step) = ahead.next_if(|step| step.at < cue.at) {
            draft(song, &mut drafts, step, ahead.peek().copied());
        }
        let ours = bars.contains(&(cue.bar as usize));
        match cue.act {
            Act::Again => drafts.again(cue),
            Act::Change if ours => {
                let id = song.spans.get(cue.span).and_then(|span| span.chord);
                if let Some(chord) = id.and_then(|id| song.chord(id)) {
                    let hand = BanjoHand::new(chord, capo, song.drone);
                    drafts.hold(cue, Held::hand(&hand));
                }
            }
            _ => {}
        }
    });
    while let Some(step) = ahead.next() {
        draft(song, &mut drafts, step, ahead.peek().copied());
    }
    sound(song, seat.part, feel, &drafts.finish(capo))
}

/// What is done in a step, and where no other follows it, the end of the break.
fn draft(song: &Arrangement, drafts: &mut BanjoDrafts, step: &TuneStep, next: Option<&TuneStep>) {
    let meter = song.bars.get(step.bar).map_or(song.meter, |bar| bar.gait);
    let cue = |at| {
        let mut cue = Cue::new(at, step.bar as u32, step.span, Act::Damp);
        cue.even = meter == Meter::SixEight || song.meter == Meter::SixEight;
        cue
    };
    let id = song.spans.get(step.span).and_then(|span| span.chord);
    let hand = id
        .and_then(|id| song.chord(id))
        .map(|chord| BanjoHand::new(chord, choose_banjo_capo(song.key), song.drone));
    let held = hand.map_or_else(Held::default, |hand| Held::hand(&hand));
    let picked: Vec<Pluck> = step
        .notes
        .iter()
        .filter_map(|note| {
            Some(Pluck { string: note.string, fret: note.fret, finger: note.finger? })
        })
        .collect();
    if let Some(way) = Way::only(&picked).filter(|_| !picked.is_empty()) {
        drafts.pick(cue(step.at), held, vec![way], (step.loud, Ends::Rings));
    }
    for note in &step.notes {
        let Some((kind, to)) = note.slur else { continue };
        let (at, from) = match note.finger {
            Some(_) => (step.at + step.length.split(2).unwrap_or(step.length), note.fret),
            None => (step.at, note.fret),
        };
        drafts.slur(cue(at), note.string, to, Slur { kind, from }, step.loud);
    }
    let end = step.at + step.length;
    if next.is_none_or(|next| next.at != end) {
        drafts.damp(cue(end));
    }
}
