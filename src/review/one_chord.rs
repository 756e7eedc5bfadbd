//! Whether a whole take goes along with no change: who never leaves a chord fits every stretch of it.

use crate::arrange::Arrangement;
use crate::take::Take;
use crate::theory::{Chord, MidiNote};

/// The fewest strokes that tell.
const ENOUGH: usize = 16;

/// So large a share of the strokes are of one chord, but for what an ear mishears. Of who goes round four bars with the
/// second chord in one of them, it is five of six.
const ALL: f64 = 0.93;

/// True if all that is heard of a take, or nearly, is of a single one of the song's chords, though it has others: where in
/// the song it was played, and in which key, its notes can't tell.
pub fn stays_on_one_chord(song: &Arrangement, take: &Take) -> bool {
    let strokes: Vec<&[MidiNote]> =
        take.hits.iter().map(|hit| &hit.pitches[..]).filter(|notes| !notes.is_empty()).collect();
    let chords = || song.spans.iter().filter_map(|span| song.chord(span.chord?));
    let first = chords().next().map(|chord| chord.root);
    if strokes.len() < ENOUGH || chords().all(|chord| Some(chord.root) == first) {
        return false;
    }
    // One of two notes may be misheard.
    let is_of = |notes: &[MidiNote], chord: &Chord| {
        notes.iter().filter(|note| chord.contains(note.pitch_class())).count() * 2 >= notes.len()
    };
    let mut tried: Vec<&Chord> = Vec::new();
    chords().any(|chord| {
        if tried.contains(&chord) {
            return false;
        }
        tried.push(chord);
        let own = strokes.iter().filter(|notes| is_of(notes, chord)).count();
        own as f64 >= ALL * strokes.len() as f64
    })
}
