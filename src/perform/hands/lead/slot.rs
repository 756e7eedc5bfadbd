use crate::style::Loud;
use crate::time::Ticks;

/// What a made-up break does at a place, before its notes are found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Slot {
    /// Where on the even grid.
    pub at: Ticks,
    /// True where swing leaves it alone.
    pub even: bool,
    /// The bar, in the arrangement's bars.
    pub bar: u32,
    /// The chord, in the arrangement's spans.
    pub span: usize,
    /// What.
    pub what: What,
}

/// What is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// A note of the line.
    Note(Loud),
    /// A note with the band, choked.
    Hit,
    /// A note with the band that rings: a held chord, or the last of all.
    End,
    /// Nothing sounds on.
    Rest,
    /// The chord changes.
    Change,
}

impl What {
    /// True of whatever is struck.
    pub(super) const fn is_struck(self) -> bool {
        matches!(self, Self::Note(_) | Self::Hit | Self::End)
    }
}
