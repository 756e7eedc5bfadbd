//! Mixing of numbers: the same everywhere and for ever, so that a seed gives the same notes on every machine. All is
//! reckoned in 64 bits, whatever the width of a `usize` is.

mod fnv1a;
mod split_mix;

pub use fnv1a::fnv1a;
pub use split_mix::{GAMMA, half_mix, mix, split_mix};
