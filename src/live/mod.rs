//! Playing while time passes: the clock, the playing thread, and how it is stopped.

mod action;
mod clock;
mod command;
mod control;
mod cursor;
mod desk;
mod engine;
mod keeper;
mod keys;
mod lane;
mod play;
mod priority;
mod remote;
mod report;
mod score;
mod signals;
mod sound_opener;
mod sounding;
mod status;
mod supply;
mod suspend;
mod taps;
#[cfg(test)]
mod testing;

pub use action::{Action, BINDINGS, Binding, Key};
pub use clock::{Clock, FakeClock, MonotonicClock};
pub use command::{Command, Follow, Place};
pub use control::Control;
pub use desk::{Answer, Ask, Desk, Wish, WishError};
pub use engine::{Ends, Engine, Settings, engine};
pub use keeper::{Keeper, KeeperNotice, Keeping, Missing, Opener, keep};
pub use keys::keys_as_markdown;
pub use play::{Notice, play_to_port};
pub use priority::raise_priority;
pub use remote::{FollowSender, Remote, StageDoor};
pub use report::{PlayError, PlayReport};
pub use score::Score;
pub use signals::stop_on_signals;
pub use sound_opener::{MakeRenderer, NoSound, SoundOpener};
pub use status::{Standing, Status};
pub use supply::{Slot, Supply};
pub use suspend::Suspension;
