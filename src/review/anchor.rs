use crate::time::Nanos;

/// What is known of where the song lies in a take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Where the song's first beat lies, from the take's beginning: after the count-in that it was recorded
    /// against. Negative if the recording began later. The delay of the recording must have been taken
    /// off: beside somebody who always plays late by as much, no review can tell it.
    Begins(Nanos),
    /// Nothing: it is laid where it fits best.
    Find,
}
