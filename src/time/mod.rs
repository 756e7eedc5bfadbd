//! Musical time: ticks, meters and the tempo that ties them to seconds.

mod meter;
mod tempo;
mod ticks;

pub use meter::Meter;
pub use tempo::{Nanos, Tempo};
pub use ticks::Ticks;
