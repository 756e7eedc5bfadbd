//! Pitches with spelling, keys, chords, scale-degree numbers and the fretboards they are played on.

mod added_sixth;
mod capo;
mod chord;
mod chord_error;
pub mod fretboard;
mod g_run;
mod key;
mod key_error;
mod lead_in;
mod line;
mod phrase;
mod pitch;
mod quality;
mod quality_alias;
mod read_chord;
mod read_key;
mod roman;
mod scale;
mod transpose;
mod walk;

pub use added_sixth::added_sixth;
pub use capo::{Capo, choose_capo};
pub use chord::Chord;
pub use chord_error::ChordError;
pub use g_run::GRun;
pub use key::{Key, Mode};
pub use key_error::KeyError;
pub use lead_in::lead_in;
pub use line::{Line, line};
pub use phrase::{Phrase, PhraseNote, Weight};
pub use pitch::{Letter, MidiNote, PitchName};
pub use quality::Quality;
pub use scale::Scale;
pub use transpose::Transposition;
pub use walk::walk;
