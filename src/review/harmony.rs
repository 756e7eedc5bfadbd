use super::Tone;
use crate::arrange::{Arrangement, Span};
use crate::theory::fretboard::banjo::choose_banjo_capo;
use crate::theory::{Chord, MidiNote, added_sixth, lead_in};
use crate::time::Ticks;

/// The short string of a banjo without a capo, G4.
const SHORT_STRING: i32 = 67;

/// What notes are to a song's chords.
#[derive(Clone, Debug)]
pub(super) struct Harmony<'a> {
    song: &'a Arrangement,
    /// What the short string sounds: it rings on over every chord, and nobody hears it as part of one (common
    /// practice, no source).
    drone: MidiNote,
}

/// The chord at a place, and the next one if it is about to come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Around<'a> {
    chord: &'a Chord,
    /// If it begins within two beats.
    next: Option<&'a Chord>,
    /// True if it begins within one.
    soon: bool,
}

impl<'a> Harmony<'a> {
    pub(super) fn new(song: &'a Arrangement) -> Self {
        let fret = i32::from(choose_banjo_capo(song.key));
        Self { song, drone: MidiNote::clamped(SHORT_STRING + fret) }
    }

    /// What there is at a place of the even grid; `None` where there is no chord.
    pub(super) fn at(&self, at: Ticks) -> Option<Around<'a>> {
        let index = self.span_at(at)?;
        let span = self.song.spans.get(index)?;
        let chord = self.chord(span)?;
        let beat = self.song.meter.beat();
        let next = self.song.spans.get(index + 1);
        let next = next.filter(|next| (next.start - at).get() <= 2 * beat.get());
        let soon = next.is_some_and(|next| next.start - at <= beat);
        Some(Around { chord, next: next.and_then(|next| self.chord(next)), soon })
    }

    /// Which chord sounds at a place, by its number in [`Arrangement::spans`].
    pub(super) fn span_at(&self, at: Ticks) -> Option<usize> {
        self.song.spans.partition_point(|span| span.start <= at).checked_sub(1)
    }

    /// The chord at a place.
    pub(super) fn chord_at(&self, at: Ticks) -> Option<&'a Chord> {
        self.chord(self.song.spans.get(self.span_at(at)?)?)
    }

    /// True in the last beat before a chord on another root: what is played there may lead on to it.
    pub(super) fn leads_on(&self, at: Ticks) -> bool {
        self.at(at).is_some_and(|Around { chord, next, soon }| {
            soon && next.is_some_and(|next| next.root.pitch_class() != chord.root.pitch_class())
        })
    }

    fn chord(&self, span: &Span) -> Option<&'a Chord> {
        self.song.chord(span.chord?)
    }

    /// True for the short string, which tells nothing of the chord.
    pub(super) fn is_drone(&self, pitch: MidiNote) -> bool {
        pitch == self.drone
    }

    /// What a note is to the chord.
    fn note(&self, around: Around<'_>, pitch: MidiNote) -> Tone {
        if self.is_drone(pitch) { Tone::Chord } else { self.class(around, pitch.pitch_class()) }
    }

    /// The same in any octave.
    pub(super) fn class(&self, around: Around<'_>, class: u8) -> Tone {
        let Around { chord, next, soon } = around;
        let leads = |next: &Chord| {
            lead_in(chord, next, 2, self.song.key).contains(&class) || soon && next.contains(class)
        };
        if chord.contains(class) {
            Tone::Chord
        } else if added_sixth(chord, self.song.key) == Some(class) {
            Tone::Sixth
        } else if next.is_some_and(leads) {
            Tone::Anticipation
        } else {
            Tone::Outside
        }
    }

    /// What a stroke is to the chord at a place: as most of its notes are, so that one that was misheard does
    /// not decide.
    pub(super) fn stroke(&self, at: Ticks, pitches: &[MidiNote]) -> Tone {
        let Some(around) = self.at(at).filter(|_| !pitches.is_empty()) else {
            return Tone::Unknown;
        };
        let mut counts = [0usize; 4];
        let mut rarest = Tone::Chord;
        for &pitch in pitches {
            let tone = self.note(around, pitch);
            if let Some(count) = counts.get_mut(tone as usize) {
                *count += 1;
            }
            if tone != Tone::Outside {
                rarest = rarest.max(tone);
            }
        }
        let [chord, sixth, anticipation, outside] = counts;
        // Half of a pinch beside the chord is heard.
        if outside * 2 >= chord + sixth + anticipation + outside { Tone::Outside } else { rarest }
    }
}
