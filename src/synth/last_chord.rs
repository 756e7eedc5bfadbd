use super::sound::{Make, Sound};
use crate::perform::{Note, Part, Performance};
use crate::time::Nanos;

/// For how long the last chord of a song rings, from its stroke, and at least past the end: as long as it is heard in
/// a room before somebody speaks (common practice, no source).
const LAST_CHORD: Nanos = Nanos(4_500_000_000);
const AT_LEAST: Nanos = Nanos(1_000_000_000);

/// Strings that sound for so long at the end are let ring; shorter ones were choked there.
const LET_RING: Nanos = Nanos(250_000_000);

/// For how long the strings ring past the end of a song that has an ending; `None` for one that has none.
pub fn last_chord_rings(performance: &Performance) -> Option<Nanos> {
    let (ending, _) = performance.cues.iter().rev().find(|(_, what)| *what == "ending")?;
    let held = performance.nanos(performance.end).0 - performance.nanos(*ending).0;
    Some(Nanos(LAST_CHORD.0 - held).max(AT_LEAST))
}

/// True if a note of the last chord is one on plucked strings that were to ring, to the end of the song and past it.
pub fn rings_on(performance: &Performance, part: &Part, note: &Note) -> bool {
    let sound = Sound::told(part.role, part.program_at(performance.end));
    let sounds = performance.nanos(note.end).0 - performance.nanos(note.start).0;
    matches!(sound.make(), Make::Plucked(_)) && note.end >= performance.end && sounds >= LET_RING.0
}
