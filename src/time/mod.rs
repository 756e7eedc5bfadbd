//! Musical time: ticks, meters and the parts of their beats, and the tempo that ties them to seconds.

mod bar_meter;
mod beat_part;
mod meter;
mod tempo;
mod ticks;

pub use bar_meter::{BarMeter, Crooked};
pub use beat_part::BeatPart;
pub use meter::Meter;
pub use tempo::{Nanos, Tempo};
pub use ticks::Ticks;
