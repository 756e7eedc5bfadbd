//! A written tune as a banjo player breaks it: its notes on their beats by the strongest finger, and rolls around
//! them.

mod action;
mod fold;
mod grid;
mod left_hand;
mod part;
mod right_hand;
mod slur;

use grid::TuneLine;
pub(in crate::perform) use part::{breaks, play};

use super::SlurKind;
use crate::arrange::Arrangement;
use crate::style::Loud;
use crate::theory::fretboard::banjo::Finger;
use crate::time::Ticks;

/// How much is played around the notes of a tune.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TuneLevel {
    /// The tune, pinches where it waits, and here and there a note between.
    Sparse,
    /// Rolls all through.
    Rolled,
    /// Rolls, and slides, hammer-ons and pull-offs into the tune and where it waits.
    Slurred,
}

/// What the hands do in a step of a break.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TuneStep {
    /// Where it begins.
    pub at: Ticks,
    /// How long it is.
    pub length: Ticks,
    /// The bar, in the arrangement's bars.
    pub bar: usize,
    /// The chord, in the arrangement's spans.
    pub span: usize,
    /// What is picked or slurred, thumb first; empty where all rings on.
    pub notes: Vec<TuneNote>,
    /// True if that is the tune.
    pub is_tune: bool,
    /// How hard: the tune stands out.
    pub loud: Loud,
}

/// One string in a step of a break.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TuneNote {
    /// The string, 1 to 5.
    pub string: u8,
    /// The fret that it is picked at, counted from the capo; of a note that the left hand makes alone, the one it
    /// comes from.
    pub fret: u8,
    /// The finger that picks it; `None` where the left hand takes on what sounds.
    pub finger: Option<Finger>,
    /// How the left hand goes on in the middle of the step, or comes to this note if nothing picks it: how, and to
    /// which fret.
    pub slur: Option<(SlurKind, u8)>,
}

/// All steps of a break in some bars of a song, given in order: those that have a written tune. Bars that follow each
/// other are one break.
pub fn tune_steps(song: &Arrangement, bars: &[usize], capo: u8, level: TuneLevel) -> Vec<TuneStep> {
    steps_of(song, bars, TuneLine::Written, capo, level)
}

/// The same for any line.
fn steps_of(
    song: &Arrangement,
    bars: &[usize],
    line: TuneLine<'_>,
    capo: u8,
    level: TuneLevel,
) -> Vec<TuneStep> {
    let runs = bars.chunk_by(|one, next| next.checked_sub(1) == Some(*one));
    let of_run = |bars: &[usize]| {
        let steps = grid::grid(song, bars, line, capo);
        let hand = left_hand::places(song, &steps, capo);
        right_hand::rolls(song, &steps, &hand, capo, level)
    };
    runs.flat_map(of_run).collect()
}
