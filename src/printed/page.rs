/// A page with all that stands on it, in points from its upper left corner.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Page {
    /// Its width.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// What stands on it, in the order in which it is read.
    pub marks: Vec<Mark>,
}

/// Something on a page.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// Words on a base line.
    Text {
        /// Where they stand by their anchor.
        x: f64,
        /// The base line.
        y: f64,
        /// What of them stands there.
        anchor: Anchor,
        /// How wide they are in the program's own type.
        width: f64,
        /// The words, in pieces that are set alike.
        runs: Vec<Run>,
        /// What they are.
        kind: TextKind,
    },
    /// A straight line.
    Line {
        /// From where.
        from: (f64, f64),
        /// To where.
        to: (f64, f64),
        /// How thick.
        thick: f64,
        /// True for a softer one.
        is_grey: bool,
    },
    /// A round dot.
    Dot {
        /// Its middle.
        at: (f64, f64),
        /// Half of its width.
        radius: f64,
    },
}

/// What words are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TextKind {
    /// Words to be read.
    #[default]
    Words,
    /// Words to be looked up, softer.
    Aside,
    /// The number of a bar, softer.
    BarNumber,
    /// A chord.
    Chord,
}

impl TextKind {
    /// True for what is softer.
    pub const fn is_grey(self) -> bool {
        matches!(self, Self::Aside | Self::BarNumber)
    }
}

/// What of words stands at their place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Anchor {
    /// Their beginning.
    #[default]
    Start,
    /// Their middle.
    Middle,
    /// Their end.
    End,
}

/// Words that are set alike.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Run {
    /// The words.
    pub words: String,
    /// Their size in points.
    pub size: f64,
    /// True for bold ones.
    pub bold: bool,
    /// How far they are raised above the base line.
    pub rise: f64,
    /// How thick an outline makes them heavier, 0 for none: sharps and flats are thin in any weight of the type.
    pub outline: f64,
}

impl Mark {
    /// The same further right and down.
    #[must_use]
    pub(super) fn moved(self, right: f64, down: f64) -> Self {
        match self {
            Self::Text { x, y, anchor, width, runs, kind } => {
                Self::Text { x: x + right, y: y + down, anchor, width, runs, kind }
            }
            Self::Line { from, to, thick, is_grey } => Self::Line {
                from: (from.0 + right, from.1 + down),
                to: (to.0 + right, to.1 + down),
                thick,
                is_grey,
            },
            Self::Dot { at, radius } => Self::Dot { at: (at.0 + right, at.1 + down), radius },
        }
    }
}
