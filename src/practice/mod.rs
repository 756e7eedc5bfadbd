//! Practice: whose chair is open in which pass, speeds that climb, and a song's chord changes one
//! by one. Pure, like all that stands before it.

mod chairs;
mod ramp;

pub use chairs::Chairs;
pub use ramp::Ramp;
