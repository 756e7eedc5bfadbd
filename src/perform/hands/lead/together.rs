use super::leader::Leader;
use super::neck::Place;
use crate::arrange::Arrangement;
use crate::chart::Lead;
use crate::theory::MidiNote;
use crate::theory::fretboard::guitar_shape;

/// What a lead strikes when all strike together: the line's note, with what the hand holds beside it; a guitar the
/// chord.
pub(super) fn together(
    song: &Arrangement,
    leader: &Leader,
    span: usize,
    pitch: MidiNote,
) -> Vec<(usize, MidiNote)> {
    let chord = song.spans.get(span).and_then(|span| song.chord(span.chord?));
    let (Some(neck), Some(chord)) = (leader.neck, chord) else { return vec![(0, pitch)] };
    let place = neck.places(&[(crate::time::Ticks::ZERO, pitch)]).first().copied();
    let place = place.unwrap_or(Place { string: 0, fret: 0, hand: 1 });
    match leader.lead {
        Some(Lead::Guitar) => {
            let notes = guitar_shape(chord, song.capo).notes();
            let held = notes.iter().enumerate();
            held.filter_map(|(string, note)| Some((string, (*note)?))).collect()
        }
        Some(Lead::Fiddle | Lead::Mandolin | Lead::Resonator) => {
            let beside = neck.beside(place, pitch, chord, false);
            beside.into_iter().chain([(place.string, pitch)]).collect()
        }
        _ => vec![(place.string, pitch)],
    }
}
