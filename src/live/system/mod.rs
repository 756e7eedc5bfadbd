//! What of playing live needs a system under it: its clock, threads and their priority, signals, and the
//! ports and devices that are opened, and opened again.

#[cfg(windows)]
mod console_events;
mod inputs;
mod keeper;
mod monotonic_clock;
mod priority;
mod signals;
mod sound_opener;
mod suspend;

pub use inputs::{follow, listen_to_pedals};
pub use keeper::{Keeper, KeeperNotice, Keeping, Missing, Opener, keep};
pub use monotonic_clock::MonotonicClock;
pub use priority::{raise_hand_priority, raise_priority};
pub use signals::{Caught, stop_on_signals};
pub use sound_opener::{MakeRenderer, NoSound, SoundOpener};
pub use suspend::Suspension;
