use std::ops::Range;
use std::sync::Arc;

use super::lick::LickSlot;
use super::shift::Range as Frets;
use crate::time::Ticks;

/// Something that is played in place of the pattern, to the finger: a lick, or a few notes that lead on.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Figure {
    /// The lick's name; `None` for notes found for the place alone.
    pub name: Option<Arc<str>>,
    /// The time in which the pattern is silent.
    pub during: Range<Ticks>,
    /// What is played, in order of time.
    pub notes: Vec<FigureNote>,
    /// True for a break, which goes on where the band stops.
    pub leads: bool,
}

/// A step of a figure.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct FigureNote {
    pub at: Ticks,
    /// How long the step is.
    pub length: Ticks,
    pub bar: usize,
    /// The chord of the moment, in the arrangement's spans.
    pub span: usize,
    pub slot: LickSlot,
    /// True where it arrives: there the pattern makes room for this one note.
    pub arrives: bool,
    /// True for a step of a break: nothing else is played in its place.
    pub tune: bool,
}

impl Figure {
    /// True if it does nothing from a time on.
    pub fn is_over(&self, at: Ticks) -> bool {
        self.during.end <= at && self.notes.iter().all(|note| note.at < at)
    }

    /// True if the pattern makes room for it at a time.
    pub fn covers(&self, at: Ticks) -> bool {
        self.during.contains(&at) || self.notes.iter().any(|note| note.arrives && note.at == at)
    }
}

/// What the left hand stops first in a figure, and when.
pub(super) fn first_frets(figure: &Figure) -> Option<(Ticks, Frets)> {
    figure.notes.iter().find_map(|note| Some((note.at, frets(&note.slot)?)))
}

/// What it stops last.
pub(super) fn last_frets(figure: &Figure) -> Option<(Ticks, Frets)> {
    figure.notes.iter().rev().find_map(|note| Some((note.at, frets(&note.slot)?)))
}

/// The frets that a step stops, slurs and all.
pub(super) fn frets(slot: &LickSlot) -> Option<Frets> {
    let notes = slot.notes().iter();
    let stopped = notes.flat_map(|note| [note.fret, note.ends_at()]).filter(|fret| *fret > 0);
    stopped.fold(None, |range, fret| {
        let (low, high) = range.unwrap_or((fret, fret));
        Some((fret.min(low), fret.max(high)))
    })
}
