use super::{Hit, Source, Take};
use crate::theory::MidiNote;
use crate::time::Nanos;

/// How far apart notes may begin and still be one stroke: what the thumb and fingers pinch comes within a few
/// milliseconds, a quick brush over five strings within twenty or so, and the fastest roll that anybody
/// plays has 60 ms between its notes (common practice, no source).
pub const STROKE: Nanos = Nanos(25_000_000);

impl Take {
    /// A take from single notes: when each was struck, its pitch and how hard (1 to 127). What begins within
    /// [`STROKE`] of a stroke's first note belongs to that stroke, which is then as loud as its
    /// loudest note. The order of the notes does not matter.
    pub fn from_notes(
        notes: impl IntoIterator<Item = (Nanos, MidiNote, u8)>,
        length: Nanos,
        source: Source,
    ) -> Self {
        let mut notes: Vec<_> = notes.into_iter().collect();
        notes.sort_unstable();
        let mut hits: Vec<Hit> = Vec::new();
        for (at, pitch, loud) in notes {
            let loud = loud.clamp(1, 127);
            match hits.last_mut() {
                Some(hit) if at.0.saturating_sub(hit.at.0) <= STROKE.0 => {
                    hit.loud = hit.loud.max(loud);
                    if let Err(place) = hit.pitches.binary_search(&pitch) {
                        hit.pitches.insert(place, pitch);
                    }
                }
                _ => hits.push(Hit { at, loud, pitches: vec![pitch] }),
            }
        }
        let length = hits.last().map_or(length, |hit| length.max(hit.at));
        Self { hits, length, source }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(millis: i64, pitch: u8, loud: u8) -> (Nanos, MidiNote, u8) {
        (Nanos(millis * 1_000_000), MidiNote::new(pitch).unwrap(), loud)
    }

    #[test]
    fn a_pinch_is_one_stroke_and_a_roll_is_not() {
        let notes = [note(512, 67, 90), note(500, 55, 70), note(583, 62, 0), note(666, 62, 80)];
        let take = Take::from_notes(notes, Nanos(0), Source::Midi);
        let told: Vec<(i64, u8, Vec<u8>)> = take
            .hits
            .iter()
            .map(|hit| {
                let pitches = hit.pitches.iter().map(|pitch| pitch.get()).collect();
                (hit.at.0 / 1_000_000, hit.loud, pitches)
            })
            .collect();
        assert_eq!(told, [(500, 90, vec![55, 67]), (583, 1, vec![62]), (666, 80, vec![62])]);
        assert_eq!(take.length, Nanos(666_000_000), "as long as its last stroke at least");
    }

    #[test]
    fn a_stroke_is_counted_from_its_first_note() {
        // Notes 20 ms apart without end are a run of strokes, not one that lasts for ever.
        let notes = (0..10).map(|n| note(n * 20, 60 + n as u8, 80));
        let take = Take::from_notes(notes, Nanos(1_000_000_000), Source::Midi);
        assert_eq!(take.hits.len(), 5);
    }
}
