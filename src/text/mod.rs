//! Text as people write it: where each word stands, what is wrong with it, and how that is shown.

mod called;
mod curly;
mod inert;
mod located;
mod nearest;
mod number_in;
mod paragraph;
mod problem;
mod quoted;
mod report;
mod source;
mod toml_error;
mod toml_line;
mod toml_quotes;
mod toml_table;
mod unclosed;
mod words;

pub(crate) use called::called;
pub use inert::inert;
pub use located::{Placed, Text};
pub use nearest::{meant, nearest, nearest_alone};
pub use paragraph::{WIDE, paragraph};
use problem::whole_characters;
pub use problem::{Problem, Problems};
pub use quoted::{quoted, quoted_lines};
pub use report::{report, summary};
pub use source::{NoText, Source, TooLarge};
pub use toml_table::{Field, Item, Node, Table, in_range, parse_toml};
pub use words::list;
