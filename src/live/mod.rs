//! Playing while time passes: the clock, the playing thread, and how it is stopped.

mod clock;
mod control;
mod play;
mod player;
mod priority;
mod schedule;
mod signals;
mod sounding;

pub use clock::{Clock, FakeClock, MonotonicClock};
pub use control::Control;
pub use play::{Notice, play_to_port};
pub use player::{PlayError, PlayReport, play, run};
pub use priority::raise_priority;
pub use schedule::{Due, Schedule};
pub use signals::stop_on_signals;
