use crate::time::Ticks;

/// A stretch of a bar and what it holds. The shares of a bar fill it exactly, in order; each lasts
/// a whole number of eighth notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Share<T> {
    /// How long it lasts.
    pub length: Ticks,
    /// What it holds.
    pub value: T,
}

impl<T> Share<T> {
    /// `value` for `length`.
    pub const fn new(length: Ticks, value: T) -> Self {
        Self { length, value }
    }
}
