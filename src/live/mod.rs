//! Playing while time passes: the clock, the playing thread, and how it is stopped.

mod action;
mod clock;
mod clock_change;
mod clock_filter;
mod clock_line;
mod command;
mod control;
mod cursor;
mod desk;
mod ear;
mod engine;
mod follower;
mod keys;
mod lane;
mod noticed;
mod pedal;
mod pedal_file;
mod remote;
mod report;
mod score;
mod sounding;
mod status;
mod supply;
#[cfg(feature = "devices")]
mod system;
mod tape;
mod taps;
#[cfg(test)]
mod testing;
mod trail;
mod trigger;
mod waker;

pub use action::{Action, BINDINGS, Binding, Key};
pub use clock::{Clock, FakeClock};
pub use clock_filter::{CLOCKS_A_QUARTER, ClockFilter, Estimate};
pub use command::{Command, Entry, Follow};
pub use control::Control;
pub use desk::{Answer, Ask, ChordsAs, Desk, Opening, Shown, Touch, Wish, WishError};
pub use ear::{Ear, Hearing, ear};
pub use engine::{Ends, Engine, Settings, engine};
pub use follower::{Follower, Outside, OutsideClock};
pub use keys::keys_as_markdown;
pub use noticed::Noticed;
pub use pedal::{PedalMap, Pedals};
pub use pedal_file::{forget_in, teach_in};
pub use remote::{FollowSender, Remote, StageDoor};
pub use report::{PlayError, PlayReport};
pub use score::Score;
pub use status::{Standing, Status};
pub use supply::{Slot, Supply};
#[cfg(feature = "devices")]
pub use system::{
    Caught, Keeper, KeeperNotice, Keeping, MakeRenderer, Missing, MonotonicClock, NoSound, Opener,
    SoundOpener, Suspension, follow, keep, listen_to_pedals, raise_hand_priority, raise_priority,
    stop_on_signals,
};
pub use tape::Tape;
pub use trigger::{Presses, Trigger, TriggerError};
pub(crate) use waker::Waker;
