//! Options that several commands share.

mod band;
mod count_in;
mod headings;
mod level;
mod live;
mod milliseconds;
mod open_chair;
mod room;

pub(super) use band::{Options, SongOptions};
pub(super) use count_in::count_in;
pub(super) use headings::{HANDS, PLACES, PRACTICE};
pub(super) use level::level;
pub(super) use live::Live;
pub(super) use milliseconds::milliseconds;
pub(super) use open_chair::{OpenChair, taken};
pub(super) use room::InRoom;
