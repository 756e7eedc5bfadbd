//! A take: what was heard of the player alone, by MIDI or by ear; and a recording of one beside the band.

mod bar_words;
mod hit;
mod played;
mod recorded;
mod run;
mod strokes;

pub use bar_words::BESIDE;
pub use hit::{Hit, Source, Take};
pub use played::Played;
pub use recorded::{HeardBar, Recorded, RecordedBar, SongBar};
pub use run::{Laid, Run};
pub use strokes::STROKE;
