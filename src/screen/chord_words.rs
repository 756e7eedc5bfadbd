use std::fmt::{self, Write};

use crate::arrange::{Arrangement, ChordId};
use crate::live::ChordsAs;
use crate::theory::fretboard::banjo::{choose_banjo_capo, shape_root};
use crate::theory::{PitchName, degree};

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
        f.write_str(&self.root)?;
        let figures = if self.runs_together() {
            self.quality.find(|sign: char| !sign.is_ascii_digit()).unwrap_or(self.quality.len())
        } else {
            0
        };
        let (figures, rest) = self.quality.split_at(figures);
        for figure in figures.chars().filter_map(|figure| figure.to_digit(10)) {
            f.write_char(RAISED.get(figure as usize).copied().unwrap_or(' '))?;
        }
        write!(f, "{rest}{}", self.bass)
    }
}

/// Raised figures, by their value.
const RAISED: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];

/// How charts write that there is no chord.
const NO_CHORD: &str = "N.C.";

impl ChordWords {
    /// True if it is one.
    pub(super) fn is_chord(&self) -> bool {
        self.root != NO_CHORD
    }

    /// True if the quality's figures would run into the root's: a 5 with a seventh is written `5⁷`, for `57` is read
    /// as a number of its own.
    fn runs_together(&self) -> bool {
        let digit = |sign: Option<char>| sign.is_some_and(|sign| sign.is_ascii_digit());
        digit(self.root.chars().last()) && digit(self.quality.chars().next())
    }
}

/// A chord in the parts in which it is written so; N.C. where there is none.
pub fn chord_words(song: &Arrangement, id: Option<ChordId>, how: ChordsAs) -> ChordWords {
    let Some(chord) = id.and_then(|id| song.chord(id)) else {
        return ChordWords { root: NO_CHORD.to_owned(), ..ChordWords::default() };
    };
    let quality = chord.quality.to_string();
    let called = |note: PitchName| match how {
        ChordsAs::Numbers => degree(note, song.key),
        ChordsAs::Names | ChordsAs::Shapes => note.to_string(),
    };
    if how == ChordsAs::Shapes {
        // The bass is another player's.
        let root = shape_root(chord, choose_banjo_capo(song.key)).to_string();
        return ChordWords { root, quality, bass: String::new() };
    }
    ChordWords {
        root: called(chord.root),
        quality,
        bass: chord.bass.map_or_else(String::new, |bass| format!("/{}", called(bass))),
    }
}
