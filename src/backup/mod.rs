//! What a banjo player in the open chair would play: the band's coverage turned into picks, from a plain
//! roll over the chord up to vamps, lead-ins and fills.

#[allow(clippy::module_inception)] // What the module is named for.
mod backup;
mod bars;
mod chair;
mod dice;
mod fill;
mod lead_ins;
mod level;
mod planner;
mod shift;
mod slot;
mod stance;
mod table;
mod words;

pub use backup::{Backup, backup, part};
pub use chair::CHAIR;
pub use level::Level;
pub use shift::MILLIS_A_FRET;
