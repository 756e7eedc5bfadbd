use std::fmt;

use crate::arrange::{Arrangement, ChordId};

/// A chord in the parts in which it is written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ChordWords {
    /// `F#`; `N.C.` for no chord.
    pub root: String,
    /// `m7b5`; empty for a major triad.
    pub quality: String,
    /// `/C`, or empty.
    pub bass: String,
}

impl fmt::Display for ChordWords {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}{}", self.root, self.quality, self.bass)
    }
}

/// A chord in the parts in which it is written; N.C. where there is none.
pub fn chord_words(song: &Arrangement, id: Option<ChordId>) -> ChordWords {
    let Some(chord) = id.and_then(|id| song.chord(id)) else {
        return ChordWords { root: "N.C.".to_owned(), ..ChordWords::default() };
    };
    ChordWords {
        root: chord.root.to_string(),
        quality: chord.quality.to_string(),
        bass: chord.bass.map_or_else(String::new, |bass| format!("/{bass}")),
    }
}
