//! The player's own breaks: where the chart has the tune, it is what is played.

use super::Level;
use super::bars::{BarPlan, is_break};
use super::figure::{Figure, FigureNote};
use super::lick::{LickNote, LickSlot};
use crate::arrange::Arrangement;
use crate::perform::{TuneLevel, TuneNote, TuneStep, tune_steps};

/// A figure for each break, in order of time.
pub(super) fn break_figures(
    song: &Arrangement,
    plans: &[BarPlan],
    capo: u8,
    level: Level,
) -> Vec<Figure> {
    let bars = song.bars.iter().zip(plans).enumerate();
    let bars: Vec<usize> =
        bars.filter(|(_, (bar, plan))| is_break(bar, plan.job)).map(|(index, _)| index).collect();
    let steps = tune_steps(song, &bars, capo, tune_level(level));
    let runs = steps.chunk_by(|one, next| one.at + one.length == next.at);
    let figure = |steps: &[TuneStep]| {
        let (first, last) = (steps.first()?, steps.last()?);
        let notes = steps.iter().map(note).collect();
        Some(Figure { name: None, during: first.at..last.at + last.length, notes, leads: true })
    };
    runs.filter_map(figure).collect()
}

/// How full the break of a level is.
const fn tune_level(level: Level) -> TuneLevel {
    match level {
        Level::Plain | Level::Sixths => TuneLevel::Sparse,
        Level::LeadIns => TuneLevel::Rolled,
        Level::Full => TuneLevel::Slurred,
    }
}

fn note(step: &TuneStep) -> FigureNote {
    let notes: Vec<LickNote> = step.notes.iter().map(lick_note).collect();
    let slot = if notes.is_empty() {
        LickSlot::Ring
    } else {
        LickSlot::Notes { notes, loud: step.loud, choked: false }
    };
    let TuneStep { at, length, bar, span, .. } = *step;
    FigureNote { at, length, bar, span, slot, arrives: false, tune: true }
}

fn lick_note(note: &TuneNote) -> LickNote {
    let TuneNote { string, fret, finger, slur } = *note;
    let fret = match (finger, slur) {
        (None, Some((_, to))) => to,
        _ => fret,
    };
    LickNote { string, fret, finger, slur }
}
