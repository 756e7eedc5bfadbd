//! Licks: what a player knows by heart and puts where it fits, to the string, the fret and the finger. They are
//! data, in the files of the folder `licks`; what a file may hold is said in its README.

mod book;
mod fit;
#[allow(clippy::module_inception)] // What the module is named for.
mod lick;
mod playable;
mod read;
mod word;

pub use book::LickBook;
pub(in crate::backup) use book::Wanted;
pub(in crate::backup) use fit::FittedLick;
pub use lick::{Lick, LickNote, LickSlot, Purpose};
pub(in crate::backup) use playable::homes;
pub use read::read_licks;
