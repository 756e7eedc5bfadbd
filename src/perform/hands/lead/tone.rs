use crate::style::Loud;
use crate::theory::MidiNote;
use crate::time::Ticks;

/// A note of the line that whoever leads plays, before it is made their own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Tone {
    /// Where it begins on the even grid.
    pub at: Ticks,
    /// Where the next begins, or a rest.
    pub end: Ticks,
    /// True where swing leaves it alone.
    pub even: bool,
    /// Its bar, in the arrangement's bars.
    pub bar: u32,
    /// Its chord, in the arrangement's spans.
    pub span: usize,
    /// What sounds.
    pub pitch: MidiNote,
    /// How hard.
    pub loud: Loud,
    /// True of a note of the written tune.
    pub written: bool,
    /// True if a rest follows.
    pub rests: bool,
}

impl Tone {
    /// How long it lasts.
    pub(super) fn length(&self) -> Ticks {
        self.end - self.at
    }
}
