//! What a banjo player in the open chair would play: the band's coverage turned into picks, from a plain
//! roll over the chord up to vamps, lead-ins and fills.

#[allow(clippy::module_inception)] // What the module is named for.
mod backup;
mod bars;
mod break_figures;
mod chair;
mod dice;
mod figure;
mod figures;
mod level;
mod lick;
mod planner;
mod player;
mod shift;
mod slot;
mod stance;
mod steps;
mod table;
mod words;

pub use backup::{Backup, PlayedLick, backup, part};
pub use chair::CHAIR;
pub use level::Level;
pub use lick::{Lick, LickBook, LickNote, LickSlot, Purpose, read_licks};
pub use player::Player;
pub use shift::{LEAP, LEAP_MILLIS, MILLIS_A_FRET};
