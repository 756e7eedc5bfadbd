//! MusicXML 4.0 (W3C Community Group Report, 2021; w3.org/2021/06/musicxml40): lead sheets read and written. The tables
//! are those of its schema, written down from memory and held against the schema in the tests from outside.

mod bars;
mod chords;
mod element;
mod kinds;
mod read;
mod signs;
mod write;
mod zipped;

pub use read::read_musicxml;
pub use write::write_musicxml;
pub use zipped::{NoScore, unpack};
