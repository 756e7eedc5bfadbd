//! Notes, rests and their lengths (ABC 2.1, 4.1 to 4.5).

use super::lexer::Cursor;
use crate::interchange::units::{LONGEST, times};
use crate::theory::Letter;

/// A note as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Written {
    pub letter: Letter,
    /// Octaves above that of middle C.
    pub octave: i32,
    /// What its accidental raises it by, if it has one.
    pub raised: Option<i8>,
}

/// Reads accidentals, a letter and its octave marks. The cursor is moved past them, or left where it was.
pub(super) fn written(cursor: &mut Cursor<'_>) -> Option<Written> {
    let start = cursor.at;
    let mut raised = None;
    while let Some(mark) = cursor.peek().filter(|c| matches!(c, '^' | '_' | '=')) {
        cursor.next();
        let by = match mark {
            '^' => 1,
            '_' => -1,
            _ => 0,
        };
        raised = Some((raised.unwrap_or(0) + by).clamp(-2, 2));
    }
    let letter = cursor.peek().filter(char::is_ascii_alphabetic);
    let Some((c, letter)) = letter.and_then(|c| Some((c, Letter::parse(c.to_ascii_uppercase())?)))
    else {
        cursor.at = start;
        return None;
    };
    cursor.next();
    let mut octave = i32::from(c.is_ascii_lowercase());
    loop {
        match cursor.peek() {
            Some('\'') => octave += 1,
            Some(',') => octave -= 1,
            _ => break,
        }
        cursor.next();
    }
    Some(Written { letter, octave: octave.clamp(-8, 8), raised })
}

/// Reads a length after a note: `2`, `/`, `3/2`, `//`, `/4`; gives `unit` times it.
pub(super) fn length(cursor: &mut Cursor<'_>, unit: i64) -> i64 {
    let up = cursor.number().unwrap_or(1);
    let mut down: i64 = 1;
    while cursor.eat('/') {
        let by = cursor.number().unwrap_or(2).max(1);
        down = down.saturating_mul(by).min(1 << 12);
    }
    times(unit, up.min(1 << 12), down).min(LONGEST)
}
