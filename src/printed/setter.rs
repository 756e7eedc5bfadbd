//! Pieces of a chart, and what they are set with.

use super::widths::Fonts;
use super::{Anchor, Mark, Run, TextKind};

/// A piece as high as it is, with what stands in it from its upper left corner.
#[derive(Clone, Debug, Default)]
pub(super) struct Block {
    pub height: f64,
    /// Room above it, unless it stands at the top.
    pub space: f64,
    /// True if what follows must stand under it.
    pub keeps: bool,
    pub marks: Vec<Mark>,
}

/// How things are set.
#[derive(Clone, Copy)]
pub(super) struct Setter<'a> {
    pub fonts: &'a Fonts,
    /// The size of the chords.
    pub size: f64,
    /// The size of words.
    pub small: f64,
    /// How wide a column is.
    pub width: f64,
}

impl Setter<'_> {
    /// Words in one piece.
    pub(super) fn text(
        &self,
        (x, y): (f64, f64),
        anchor: Anchor,
        size: f64,
        bold: bool,
        words: &str,
    ) -> Mark {
        let runs = vec![Run { words: words.to_owned(), size, bold, ..Run::default() }];
        Mark::Text {
            x,
            y,
            anchor,
            width: self.fonts.width(words, size, bold),
            runs,
            kind: TextKind::Words,
        }
    }
}

/// The same, softer.
pub(super) fn grey(mark: Mark) -> Mark {
    of_kind(mark, TextKind::Aside)
}

/// The same words as what they are.
pub(super) fn of_kind(mark: Mark, kind: TextKind) -> Mark {
    match mark {
        Mark::Text { x, y, anchor, width, runs, .. } => {
            Mark::Text { x, y, anchor, width, runs, kind }
        }
        other => other,
    }
}
