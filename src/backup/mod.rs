//! What a banjo player in the open chair would play: the band's coverage turned into picks, from a plain
//! roll over the chord up to vamps, lead-ins and fills.

#[allow(clippy::module_inception)] // What the module is named for.
mod backup;
mod level;

pub use backup::{Backup, backup};
pub use level::Level;
