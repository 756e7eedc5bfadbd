//! What the signs of a chart mean.

use super::{Cell, ChordsAs, How, Part};
use crate::chart::Stop;

/// Of those signs that stand in it, a few words each.
pub(super) fn signs(parts: &[Part], how: How) -> Vec<String> {
    let any = |is: fn(&Cell) -> bool| {
        parts.iter().flat_map(|part| &part.rows).flat_map(|row| &row.cells).any(is)
    };
    let stops = |stop: Stop| {
        let mut cells = parts.iter().flat_map(|part| &part.rows).flat_map(|row| &row.cells);
        cells.any(|cell| cell.stops.iter().any(|mark| mark.stop == stop))
    };
    let mut signs = Vec::new();
    let mut say = |is_there: bool, words: &str| {
        if is_there {
            signs.push(words.to_owned());
        }
    };
    say(how.chords != ChordsAs::Names, "numbers count on the major scale of the key");
    say(any(|cell| cell.chords.iter().any(|chord| chord.is_held)), "light: the chord goes on");
    say(any(|cell| !cell.slashes.is_empty()), "/ the chord goes on for a beat");
    say(
        any(|cell| cell.chords.iter().any(|chord| chord.is_pushed)),
        "‹ an eighth early, over the beat",
    );
    say(any(|cell| !cell.sung.is_empty()), "line below: somebody sings; no line: room to fill");
    say(stops(Stop::Hit), "× all hit and choke");
    say(stops(Stop::Hold), "◇ all strike and let ring");
    say(stops(Stop::Silence), "– the band is silent");
    say(
        any(|cell| cell.chords.iter().any(|chord| chord.text.root == "N.C.")),
        "N.C. no chord: the band is silent",
    );
    say(any(|cell| cell.is_pickup), "before bar 1 of a section: its pickup");
    signs
}
