//! Chord sheets as people type them: chords above words, bars between strokes, and headings. No standard has them;
//! what is read here is common practice, no source.

mod head;
mod line;
mod read;
mod words;

pub use read::read_sheet;
