//! Chords for a tune that has none, by the numbers in `numbers.toml`.
//!
//! A tune is cut into places where a chord may stand, one or two in a bar. What a chord costs there is told by the notes
//! that sound over it, by how long they last and where they are struck; what a change costs by where in the phrase it
//! comes, and from which chord to which. The chords that cost least together are the tune's. Every number is whole, so
//! the same tune has the same chords on every machine.

mod choose;
mod found;
mod numbers;
mod places;

pub use choose::find_chords;
pub use found::{Found, FoundBar};
