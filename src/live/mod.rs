//! Playing while time passes: the clock, the playing thread, and how it is stopped.

mod action;
mod clock;
mod clock_change;
mod clock_filter;
mod clock_line;
mod command;
mod control;
mod play;
mod player;
mod priority;
mod schedule;
mod score;
mod signals;
mod sounding;
mod status;

pub use action::{Action, BINDINGS, Binding, Key};
pub use clock::{Clock, FakeClock, MonotonicClock};
pub use clock_filter::{CLOCKS_A_QUARTER, ClockFilter, Estimate};
pub use command::{Command, Follow, Place};
pub use control::Control;
pub use play::{Notice, play_to_port};
pub use player::{PlayError, PlayReport, play, run};
pub use priority::raise_priority;
pub use schedule::{Due, Schedule};
pub use score::Score;
pub use signals::stop_on_signals;
pub use status::{Standing, Status};
