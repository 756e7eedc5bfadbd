//! Practice: whose chair is open in which pass, speeds that climb, and a song's chord changes one
//! by one. Pure, like all that stands before it.

mod chairs;
mod changes;
mod course;
mod day;
mod drill;
mod marks;
mod parse;
mod ramp;
mod sit_out;
mod stretch;
#[cfg(test)]
mod testing;

pub use chairs::Chairs;
pub use changes::{Change, ChangeChoice, ChangeError, changes};
pub use course::{Course, Exercise};
pub use day::Day;
pub use drill::drill;
pub use marks::{Mark, Marks, MarksError, file_name, title_key};
pub use parse::{
    MOST_DRILL_BARS, PracticeError, SPEEDS, parse_drill_bars, parse_ramp, parse_times,
};
pub use ramp::Ramp;
pub use sit_out::{SitOutError, SitOutRule};
pub use stretch::{Stretch, StretchError};
