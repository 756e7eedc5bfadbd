use crate::arrange::ChordId;
use crate::style::Strike;
use crate::time::Ticks;

/// Something that a player does at a place on the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cue {
    /// The place on the even grid, before swing and feel.
    pub at: Ticks,
    /// True where swing leaves things alone: in 6/8, and in a pattern of triplets.
    pub even: bool,
    /// The bar that it stands in, in the arrangement's bars.
    pub bar: u32,
    /// The chord of the moment, in the arrangement's spans.
    pub span: usize,
    /// The first of a bar before which the G run was due, which comes to rest here.
    pub(super) after_run: bool,
    /// For the root of a bass whose next notes walk: how many steps, and where to.
    pub(super) ahead: Option<(usize, ChordId)>,
    /// What to do.
    pub act: Act,
}

impl Cue {
    /// A plain one on the even grid.
    pub const fn new(at: Ticks, bar: u32, span: usize, act: Act) -> Self {
        Self { at, even: false, bar, span, after_run: false, ahead: None, act }
    }
}

/// What a player does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// Stops what sounds.
    Damp,
    /// The chord changes: what sounds and does not belong to it is stopped.
    Change,
    /// Plays a slot of the pattern.
    Strike(Strike),
    /// Plays step `step` of a walk of `of` steps, counted from 0, that arrives at the chord `to`; or of
    /// the G run, if that is the strike's bass note.
    Walk {
        /// What is asked for.
        strike: Strike,
        /// Which step it is, from 0.
        step: usize,
        /// Of how many.
        of: usize,
        /// The chord that the walk arrives at.
        to: ChordId,
    },
    /// Everyone strikes together and chokes.
    Hit,
    /// Everyone strikes together and lets it ring: the end.
    FinalHit,
    /// A round is over. What comes now is the first bar again, which only shows how long the round's
    /// last notes ring.
    Again,
}
