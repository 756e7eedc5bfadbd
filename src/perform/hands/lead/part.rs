use super::hand::Hand;
use super::neck::{Neck, Place};
use super::stroke::{Does, Others, Stroke};
use super::tone::Tone;
use crate::perform::slurs::soonest;
use crate::theory::{Chord, MidiNote, Scale};
use crate::time::Ticks;

/// The line of a pass under the hands of whoever leads it.
pub(super) struct Part<'a> {
    pub hand: Hand<'a>,
    pub neck: Neck,
    pub tones: &'a [Tone],
    places: Vec<Place>,
}

/// How long before a note a hand sets off that slides or hammers into it, in milliseconds (common practice, no source).
const GRACE_MILLIS: f64 = 75.0;

impl<'a> Part<'a> {
    pub(super) fn new(hand: Hand<'a>, neck: Neck, tones: &'a [Tone]) -> Self {
        let notes: Vec<(Ticks, MidiNote)> =
            tones.iter().map(|tone| (tone.at, tone.pitch)).collect();
        Self { hand, neck, tones, places: neck.places(&notes) }
    }

    /// The tones in order with their places on the neck.
    pub(super) fn notes(&self) -> impl Iterator<Item = (usize, &'a Tone, Place)> {
        self.tones
            .iter()
            .zip(&self.places)
            .enumerate()
            .map(|(index, (tone, place))| (index, tone, *place))
    }

    /// The tone before, if nothing lies between, with its place.
    pub(super) fn before(&self, index: usize) -> Option<(&'a Tone, Place)> {
        let before = index.checked_sub(1)?;
        let (last, tone) = (self.tones.get(before)?, self.tones.get(index)?);
        (last.end == tone.at).then_some((last, *self.places.get(before)?))
    }

    /// The tone after.
    pub(super) fn after(&self, index: usize) -> Option<&'a Tone> {
        self.tones.get(index + 1)
    }

    /// The chord of a tone.
    pub(super) fn chord(&self, tone: &Tone) -> Option<&'a Chord> {
        self.hand.chord(tone.span)
    }

    /// A tone struck plainly, alone.
    pub(super) fn plain(tone: &Tone, place: Place, others: Others) -> Stroke {
        Stroke::of(tone, Does::Strikes(vec![(place.string, tone.pitch)], others))
    }

    /// How a bar and its chord are called at a place, near a tone.
    pub(super) fn spot(&self, tone: &Tone, at: Ticks) -> (u32, usize) {
        let song = self.hand.song;
        let far = |bar: &u32| song.bars.get(*bar as usize).is_none_or(|bar| at < bar.end());
        let bar = (tone.bar..).find(far).unwrap_or(tone.bar);
        let bar = if self.hand.bar(bar).is_some() { bar } else { tone.bar };
        let begun = |span: &usize| song.spans.get(*span + 1).is_none_or(|next| next.start > at);
        (bar, (tone.span..).find(begun).unwrap_or(tone.span))
    }

    /// The string that has a note under a hand or open, the nearest to `place`.
    pub(super) fn near(&self, place: Place, note: MidiNote) -> Option<Place> {
        let strings = 0..self.neck.open.len();
        let under = strings.filter_map(|string| {
            let fret = self.neck.fret(string, note)?;
            let place = Place { string, fret, ..place };
            self.neck.has_under(place.hand, fret).then_some(place)
        });
        under.min_by_key(|other| other.string.abs_diff(place.string))
    }

    /// A note of the scale between two that are a third apart.
    pub(super) fn between(&self, tone: &Tone, next: MidiNote) -> Option<MidiNote> {
        let scale = Scale::of(self.hand.song.key, self.chord(tone)?);
        let (from, to) = (i32::from(tone.pitch.get()), i32::from(next.get()));
        let way = (to - from).signum();
        if !(3..=4).contains(&(to - from).abs()) {
            return None;
        }
        let note =
            [2, 1, 3].map(|far| from + way * far).into_iter().find(|note| scale.has(*note))?;
        Some(MidiNote::clamped(note))
    }

    /// From where a hand comes into a note, so many frets below at most on its string: from the scale's note, or the
    /// blue one under a third.
    pub(super) fn set_off_below(&self, tone: &Tone, place: Place, most: u8) -> Option<MidiNote> {
        let chord = self.chord(tone)?;
        let scale = Scale::of(self.hand.song.key, chord);
        let third = chord.quality.third().map(|third| (chord.root.pitch_class() + third) % 12);
        let is_third = third == Some(tone.pitch.pitch_class());
        let fits = |far: &u8| {
            let note = i32::from(tone.pitch.get()) - i32::from(*far);
            *far <= place.fret && (scale.has(note) || (is_third && *far == 1))
        };
        let far = if is_third { [1, 2, 3] } else { [2, 1, 3] };
        let far = far.into_iter().filter(|far| *far <= most).find(fits)?;
        Some(MidiNote::clamped(i32::from(tone.pitch.get()) - i32::from(far)))
    }

    /// Where a hand sets off that comes into a tone from elsewhere, and in which bar: so late that the tone before is
    /// heard; `None` where there is no time.
    pub(super) fn grace(&self, index: usize) -> Option<(Ticks, u32)> {
        let tone = self.tones.get(index)?;
        let last = self.tones.get(index.checked_sub(1)?)?;
        let length = self.hand.song.pace.ticks_in_millis(GRACE_MILLIS);
        let at = tone.at - length.max(soonest(self.hand.song.tempo) + Ticks::new(1));
        let room = at - last.at >= length + length;
        let own = self.hand.bar(tone.bar)?;
        room.then_some((at, if at < own.start { last.bar } else { tone.bar }))
    }

    /// What a hand strikes before it slides into a tone, so many frets below at most and so loud; nothing where the tone
    /// before is what it slides from. `None` where it can't slide.
    pub(super) fn slid(
        &self,
        index: usize,
        most: u8,
        loud: f64,
        others: Others,
    ) -> Option<Option<Stroke>> {
        let (tone, place) = (self.tones.get(index)?, *self.places.get(index)?);
        if let Some((last, _)) = self.is_near(index, most)
            && last.pitch < tone.pitch
            && self.places.get(index - 1)?.fret > 0
        {
            return Some(None);
        }
        let note = self.set_off_below(tone, place, most)?;
        let (at, bar) = self.grace(index)?;
        let grace = Does::Strikes(vec![(place.string, note)], others);
        Some(Some(Stroke { bar, ..Stroke::of(tone, grace).moved(at).at_share(loud) }))
    }

    /// True if a tone goes on from the one before it on the same string, so many half steps off at most.
    pub(super) fn is_near(&self, index: usize, most: u8) -> Option<(&'a Tone, Place)> {
        let tone = self.tones.get(index)?;
        let place = self.places.get(index)?;
        let (last, from) = self.before(index)?;
        let step = last.pitch.get().abs_diff(tone.pitch.get());
        let long = tone.at - last.at >= soonest(self.hand.song.tempo);
        (from.string == place.string && (1..=most).contains(&step) && long).then_some((last, from))
    }
}
