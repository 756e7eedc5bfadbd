//! Playing while time passes: the clock, the playing thread, and how it is stopped.

mod action;
mod clock;
mod command;
mod control;
mod desk;
mod keys;
mod play;
mod player;
mod priority;
mod schedule;
mod score;
mod signals;
mod sounding;
mod status;
mod suspend;
mod taps;

pub use action::{Action, BINDINGS, Binding, Key};
pub use clock::{Clock, FakeClock, MonotonicClock};
pub use command::{Command, Follow, Place};
pub use control::Control;
pub use desk::{Answer, Ask, Desk, Wish, WishError};
pub use keys::keys_as_markdown;
pub use play::{Notice, play_to_port};
pub use player::{PlayError, PlayReport, play, run};
pub use priority::raise_priority;
pub use schedule::{Due, Schedule};
pub use score::Score;
pub use signals::stop_on_signals;
pub use status::{Standing, Status};
pub use suspend::Suspension;
