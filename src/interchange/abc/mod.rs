//! ABC, as "The abc music standard 2.1" (abcnotation.com, December 2011) has it. Its sections are named where they
//! are followed; they were written down from memory.

mod body;
mod fields;
mod key;
mod letters;
mod lexer;
mod measures;
mod note;
mod tunes;
mod write;

pub use tunes::read_abc;
pub use write::write_abc;
