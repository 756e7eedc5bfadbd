//! A banjo part written out: tablature as text and as MusicXML, the chords' closed positions as diagrams,
//! and what each chord of a chart means for the open short string.

mod chord_fact;
mod data;
mod musicxml;
mod neck;
mod sheet;
mod slurs;
mod spelling;
mod text;
mod xml;

pub use chord_fact::{ChordFact, chord_facts, degree_word};
pub use data::json;
pub use musicxml::musicxml;
pub use neck::{neck_svg, neck_text};
pub use sheet::{ChordMark, TabBar, TabColumn, TabPass, Tablature, tablature};
pub use text::{bars_as_text, text};
