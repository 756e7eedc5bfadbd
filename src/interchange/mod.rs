//! Songs in others' formats: tunes as ABC, MusicXML, .mxl, chord sheets and our own MIDI files, read into songs and
//! written from them.
//!
//! A format's reader fills a [`Tune`]: bars as they are written. From there on all formats go one way: the bars are
//! put in the order played, brought to meters that the band plays, and cut into sections with their form. What can't
//! be kept is among the [`Remarks`], bar by bar.

mod abc;
mod bars;
mod chord_word;
mod find;
mod fit;
mod format;
mod in_key;
mod jumps;
mod kinds;
mod lead_in;
mod leads;
mod marks;
mod midi;
mod modes;
mod musicxml;
mod page;
mod phrases;
mod play_order;
mod remark;
mod sections;
mod sheet;
mod song;
mod tune;
mod tunes;
mod units;

pub use abc::{read_abc, write_abc};
pub use find::{Found, FoundBar, find_chords};
pub use format::{FileTunes, Format, Given, MOST_FILE_BYTES, NoTunes, read_tunes};
pub use in_key::in_key;
pub use kinds::styles_given;
pub use marks::{Jump, Marks};
pub use midi::read_midi;
pub use musicxml::{NoScore, read_musicxml, unpack, write_musicxml};
pub use remark::{Remark, Remarks};
pub use sheet::read_sheet;
pub use song::{NoSong, has_no_chords, song_file};
pub use tune::{Measure, OwnWords, TempoMark, TimeSignature, Tune};
pub use tunes::{Stray, Tunes};

/// The most bars of a tune, as written and as played: a day of music.
pub const MOST_MEASURES: usize = 20_000;

/// A text on one line, without what a terminal would obey.
fn one_line(text: &str) -> String {
    let plain: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}
