//! A song as a chart on paper: what stands in it, where it stands on the pages, and three ways to write it down.
//!
//! [`ChartSheet`] is the chart in words and places. [`lay_out`] sets it on pages, as large as it may be on one; of
//! these [`svg`] and [`pdf`] are made, of the sheet itself [`html`], which a browser lays out. None of the three knows
//! another. Everything is black on white, in type that the program brings along (`font`).

mod blocks;
mod cells;
mod chord_text;
mod facts;
mod font;
mod html;
mod jobs;
mod page;
mod pages;
mod pdf;
mod row_marks;
mod rows;
mod runs;
mod setter;
mod sheet;
mod signs;
mod svg;
mod widths;

pub use chord_text::ChordText;
pub use font::unknown_letters;
pub use html::html;
pub use jobs::passes;
pub use page::{Anchor, Mark, Page, Run, TextKind};
pub use pages::{Pages, lay_out};
pub use pdf::pdf;
pub use rows::chart_sheet;
pub use sheet::{
    BarSign, Cell, ChartSheet, ChordsAs, How, Part, PassRow, PlacedChord, Row, StopMark,
};
pub use svg::svg;
