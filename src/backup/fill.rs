//! What a fill plays: a phrase that falls to a tone of the chord that follows.

use super::dice::{dice, line_of};
use crate::arrange::{Arrangement, Bar, ChordId};
use crate::perform::{Act, Cue};
use crate::style::Stroke;
use crate::theory::fretboard::banjo::Position;
use crate::theory::{Chord, MidiNote, Phrase, PhraseNote, Weight};
use crate::time::Ticks;

/// Where a fill begins, how high it goes and where it ends, in thousandths of the notes under the hand from the
/// lowest: falling from near the top, rising to it, or turning round in the middle.
const SHAPES: [(i32, i32, i32); 4] =
    [(900, 1000, 400), (650, 1000, 500), (500, 900, 300), (800, 900, 650)];

/// Longer than this apart, two notes are of two fills.
const APART: Ticks = Ticks::new(Ticks::QUARTER.get() * 2);

/// For each cue that asks for a note of a fill, that note. `places` is where the hand is for it, bar for bar.
pub(super) fn fill_notes(
    song: &Arrangement,
    cues: &[Cue],
    places: &[Position],
    seed: u64,
) -> Vec<Option<MidiNote>> {
    let is_tone =
        |cue: &Cue| matches!(cue.act, Act::Strike(strike) if strike.stroke == Some(Stroke::Tone));
    let chord = |cue: &Cue| song.spans.get(cue.span).and_then(|span| span.chord);
    let asked: Vec<(usize, Cue, ChordId)> = cues
        .iter()
        .enumerate()
        .filter(|(_, cue)| is_tone(cue))
        .filter_map(|(at, cue)| Some((at, *cue, chord(cue)?)))
        .collect();
    let mut notes = vec![None; cues.len()];
    for fill in asked.chunk_by(|(_, a, _), (_, b, _)| b.at - a.at <= APART) {
        let (Some((_, first, _)), Some((_, last, _))) = (fill.first(), fill.last()) else {
            continue;
        };
        let Some(bar) = song.bars.get(first.bar as usize) else { continue };
        let Some(place) = places.get(first.bar as usize).copied() else { continue };
        let fill = Fill { song, place, seed, bar, first: first.at, last: last.at, notes: fill };
        for ((at, ..), note) in fill.notes.iter().zip(fill.best()) {
            if let Some(place) = notes.get_mut(*at) {
                *place = Some(note);
            }
        }
    }
    notes
}

/// How many phrases are tried before the best of them is mended.
const TRIES: u64 = 6;

/// One fill: its cues with their places among them all and their chords.
struct Fill<'a> {
    song: &'a Arrangement,
    place: Position,
    seed: u64,
    /// The bar that it begins in.
    bar: &'a Bar,
    first: Ticks,
    last: Ticks,
    notes: &'a [(usize, Cue, ChordId)],
}

impl Fill<'_> {
    /// The first phrase whose every note beside its chord goes on by step or to a tone of the chord; if there is
    /// none, the one with the fewest others, and those made tones of the chord.
    fn best(&self) -> Vec<MidiNote> {
        let tries = (0..TRIES).map(|salt| self.phrase(salt));
        let mut best: Option<(usize, Vec<MidiNote>)> = None;
        for notes in tries {
            let loose = (0..notes.len()).filter(|at| self.is_loose(&notes, *at)).count();
            if best.as_ref().is_none_or(|(least, _)| loose < *least) {
                best = Some((loose, notes));
            }
            if loose == 0 {
                break;
            }
        }
        let (_, mut notes) = best.unwrap_or_default();
        // From the end: what a note goes on to is settled before it.
        for at in (0..notes.len()).rev() {
            if self.is_loose(&notes, at)
                && let Some((own, tone)) = notes.get(at).copied().zip(self.nearest_tone(&notes, at))
                && own != tone
                && let Some(note) = notes.get_mut(at)
            {
                *note = tone;
            }
        }
        notes
    }

    fn chord(&self, at: usize) -> Option<&Chord> {
        self.song.chord(self.notes.get(at)?.2)
    }

    /// True for a note beside its chord that leaps to another beside its own.
    fn is_loose(&self, notes: &[MidiNote], at: usize) -> bool {
        let is_tone = |at: usize, note: &MidiNote| {
            self.chord(at).is_none_or(|chord| chord.contains(note.pitch_class()))
        };
        let Some(note) = notes.get(at).filter(|note| !is_tone(at, note)) else { return false };
        let Some(next) = notes.get(at + 1) else { return true };
        !is_tone(at + 1, next) && next.get().abs_diff(note.get()) > 2
    }

    fn nearest_tone(&self, notes: &[MidiNote], at: usize) -> Option<MidiNote> {
        let (own, chord) = (notes.get(at)?, self.chord(at)?);
        let tones = self.place.range().filter(|note| chord.contains(note % 12));
        let nearest = tones.min_by_key(|note| note.abs_diff(own.get()))?;
        Some(MidiNote::clamped(i32::from(nearest)))
    }

    fn phrase(&self, salt: u64) -> Vec<MidiNote> {
        let line = line_of(self.song, self.bar);
        let choice = |place: u64| dice(self.seed, [u64::from(b'o') + (salt << 8), line, place]);
        let shape = SHAPES.get((choice(self.bar.turn as u64) % SHAPES.len() as u64) as usize);
        let range = self.place.range();
        let (low, high) = (i32::from(*range.start()), i32::from(*range.end()));
        let height = |part: i32| low + (high - low) * part / 1000;
        let (start, peak, end) = shape.copied().unwrap_or((650, 1000, 500));
        let heights = (height(start), height(peak), height(end));
        let phrase = Phrase { key: self.song.key, blues: false, range, from: None, heights };
        let span = (self.last - self.first).get().max(1);
        let wanted: Vec<PhraseNote<'_>> = self
            .notes
            .iter()
            .filter_map(|(_, cue, id)| {
                let bar = self.song.bars.get(cue.bar as usize)?;
                let beat = (cue.at - bar.start).is_multiple_of(bar.meter.beat());
                let weight = match (cue.at == self.last, cue.at == bar.start, beat) {
                    (true, ..) => Weight::Last,
                    (_, true, _) => Weight::Strong,
                    (_, _, true) => Weight::Beat,
                    _ => Weight::Passing,
                };
                let into = (cue.at - self.first).get();
                Some(PhraseNote {
                    chord: self.song.chord(*id)?,
                    weight,
                    place: i32::try_from(into * 1000 / span).unwrap_or(0),
                    echo: None,
                    seed: choice(into.unsigned_abs().wrapping_add(1 << 20)),
                })
            })
            .collect();
        phrase.notes(&wanted)
    }
}
