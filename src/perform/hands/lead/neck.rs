//! Where on its strings an instrument has the notes of a line.

use crate::theory::fretboard::banjo::{BANJO, LONG_STRINGS};
use crate::theory::fretboard::{FIDDLE, GUITAR, MANDOLIN};
use crate::theory::{Chord, MidiNote};
use crate::time::Ticks;
use crate::trellis::{Trellis, least_path};

/// The strings of an instrument and what a hand does on them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Neck {
    /// The open strings as MIDI numbers, lowest first.
    pub open: &'static [u8],
    /// The fret that they are stopped at for good.
    pub capo: u8,
    /// The last fret that a lead goes to, counted from the capo; on a fiddle and a bass half steps.
    highest: u8,
    /// How many frets above its lowest the hand reaches without moving: near the nut, and from the fifth fret on.
    reach: [u8; 2],
    /// What a stopped string costs beside an open one.
    stopped: u32,
}

/// A note on the neck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    /// The string, 0 the lowest.
    pub string: usize,
    /// Its fret, 0 open.
    pub fret: u8,
    /// The lowest fret under the hand.
    pub hand: u8,
}

/// GBDGBD from G2, of a resonator; EADG from E1, of a bass (instruments.json of the reference tables).
const RESONATOR: [u8; 6] = [43, 47, 50, 55, 59, 62];
const BASS: [u8; 4] = [28, 33, 38, 43];

/// What it costs, for the least-cost way; common practice, no source, and the figures are ours.
mod weight {
    /// Each fret that the hand lies above the first.
    pub const HIGH: u32 = 1;
    /// Each fret that it moves.
    pub const MOVE: u32 = 3;
    /// A move within a hundred milliseconds, besides.
    pub const HURRY: u32 = 12;
    /// Each string that is skipped.
    pub const SKIP: u32 = 3;
}

/// From where on a hand reaches further, since the frets lie closer together.
const CLOSER: u8 = 5;

/// The shortest time in which a hand moves at ease, in ticks of an eighth's half: it needs a note's length.
const HURRY: Ticks = Ticks::new(Ticks::EIGHTH.get());

impl Neck {
    /// Four fingers on half steps, a fourth in all, and the first finger's stretch back: a fiddle's first positions.
    pub(super) const FIDDLE: Self =
        Self { open: &FIDDLE, capo: 0, highest: 10, reach: [6, 5], stopped: 1 };
    /// Fingered as a fiddle, by scale steps.
    pub(super) const MANDOLIN: Self =
        Self { open: &MANDOLIN.open, capo: 0, highest: 12, reach: [6, 6], stopped: 1 };
    /// A finger a fret; open strings wherever they will do.
    pub(super) const GUITAR: Self =
        Self { open: &GUITAR.open, capo: 0, highest: 12, reach: [3, 4], stopped: 2 };
    /// The strings that run the whole length.
    pub(super) const BANJO: Self = Self {
        open: BANJO.open.split_at(LONG_STRINGS).0,
        capo: 0,
        highest: 17,
        reach: [3, 4],
        stopped: 1,
    };
    /// First, second and fourth finger on two half steps.
    pub(super) const BASS: Self =
        Self { open: &BASS, capo: 0, highest: 12, reach: [2, 2], stopped: 1 };
    /// A bar, which lies at one fret.
    pub(super) const RESONATOR: Self =
        Self { open: &RESONATOR, capo: 0, highest: 14, reach: [0, 0], stopped: 1 };

    /// The same with a capo.
    pub(super) const fn behind(self, capo: u8) -> Self {
        Self { capo, ..self }
    }

    /// What a string sounds at a fret.
    pub(super) fn note(&self, string: usize, fret: u8) -> Option<MidiNote> {
        let open = self.open.get(string)?;
        Some(MidiNote::clamped(i32::from(*open) + i32::from(self.capo) + i32::from(fret)))
    }

    /// The fret at which a string has a note.
    pub(super) fn fret(&self, string: usize, note: MidiNote) -> Option<u8> {
        let nut = self.note(string, 0)?;
        note.get().checked_sub(nut.get()).filter(|fret| *fret <= self.highest)
    }

    /// True if the hand has a fret without moving.
    pub(super) fn has_under(&self, hand: u8, fret: u8) -> bool {
        let [near, far] = self.reach;
        let reach = if hand >= CLOSER { far } else { near };
        fret == 0 || (hand..=hand + reach).contains(&fret)
    }

    /// A place for each note of a line, in order: low, open where that will do, and without a leap of the hand that
    /// it has no time for. A note that the neck does not have gets its lowest string.
    pub(super) fn places(&self, notes: &[(Ticks, MidiNote)]) -> Vec<Place> {
        let layers: Vec<(Ticks, Vec<Place>)> =
            notes.iter().map(|(at, note)| (*at, self.everywhere(*note))).collect();
        let path = least_path(&Way { neck: self, layers: &layers });
        let states = path.map_or_else(|| vec![0; layers.len()], |path| path.states);
        let chosen = layers.iter().zip(states);
        let lowest = Place { string: 0, fret: 0, hand: 1 };
        chosen.map(|((_, places), at)| places.get(at).copied().unwrap_or(lowest)).collect()
    }

    fn everywhere(&self, note: MidiNote) -> Vec<Place> {
        let mut places = Vec::new();
        for string in 0..self.open.len() {
            let Some(fret) = self.fret(string, note) else { continue };
            let hands = (1..=self.highest).filter(|hand| self.has_under(*hand, fret));
            places.extend(hands.map(|hand| Place { string, fret, hand }));
        }
        if places.is_empty() {
            places.push(Place { string: 0, fret: 0, hand: 1 });
        }
        places
    }

    /// A string beside the one at `place` that sounds with it: a tone of the chord under the same hand, a third, a
    /// sixth or what is open for choice; below it, or above it if `above`.
    pub(super) fn beside(
        &self,
        place: Place,
        note: MidiNote,
        chord: &Chord,
        above: bool,
    ) -> Option<(usize, MidiNote)> {
        /// The widest that two fingers lie apart on two strings, in half steps.
        const APART: u8 = 4;
        let other = if above { place.string + 1 } else { place.string.checked_sub(1)? };
        let mut found: Option<(u32, u8, MidiNote)> = None;
        for fret in (0..=self.highest).filter(|fret| self.has_under(place.hand, *fret)) {
            let Some(partner) = self.note(other, fret) else { continue };
            let near = fret == 0 || place.fret == 0 || fret.abs_diff(place.fret) <= APART;
            let heard = if above { partner > note } else { partner < note };
            let cost = match partner.get().abs_diff(note.get()) {
                3 | 4 | 8 | 9 => 0,
                5 | 7 => 3,
                12 => 5,
                _ => continue,
            };
            let cost = cost + u32::from(fret > 0) * 2;
            let better = found.is_none_or(|(least, ..)| cost < least);
            if near && heard && better && chord.contains(partner.pitch_class()) {
                found = Some((cost, fret, partner));
            }
        }
        found.map(|(_, _, partner)| (other, partner))
    }
}

struct Way<'a> {
    neck: &'a Neck,
    layers: &'a [(Ticks, Vec<Place>)],
}

impl Way<'_> {
    fn between(gap: Ticks, from: &Place, to: &Place) -> u32 {
        let far = u32::from(from.hand.abs_diff(to.hand));
        let hurry = if far > 0 && gap < HURRY { weight::HURRY } else { 0 };
        let skipped = u32::try_from(from.string.abs_diff(to.string)).unwrap_or(0).saturating_sub(1);
        weight::MOVE * far + hurry + weight::SKIP * skipped
    }
}

impl Trellis for Way<'_> {
    type Cost = u32;

    fn layers(&self) -> usize {
        self.layers.len()
    }

    fn states(&self, layer: usize) -> usize {
        self.layers.get(layer).map_or(0, |(_, places)| places.len())
    }

    fn own(&self, layer: usize, state: usize) -> u32 {
        let place = self.layers.get(layer).and_then(|(_, places)| places.get(state));
        place.map_or(0, |place| {
            let stopped = if place.fret > 0 { self.neck.stopped } else { 0 };
            weight::HIGH * u32::from(place.hand - 1) + stopped
        })
    }

    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[u32],
    ) -> impl Iterator<Item = (usize, u32)> {
        let own = self.layers.get(layer);
        let last = layer.checked_sub(1).and_then(|last| self.layers.get(last));
        let pair = last.zip(own).and_then(|((then, from), (now, places))| {
            Some((*now - *then, from, places.get(state)?))
        });
        pair.into_iter().flat_map(move |(gap, from, to)| {
            let sums = from.iter().zip(before).enumerate();
            sums.map(move |(index, (place, sum))| {
                (index, sum.saturating_add(Self::between(gap, place, to)))
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(neck: Neck, notes: &[u8]) -> Vec<(usize, u8)> {
        let line: Vec<(Ticks, MidiNote)> = (0..)
            .zip(notes)
            .map(|(at, note)| (Ticks::EIGHTH * at, MidiNote::clamped(i32::from(*note))))
            .collect();
        neck.places(&line).iter().map(|place| (place.string, place.fret)).collect()
    }

    /// Common practice, no source: the scale of G near the nut, with the open strings.
    #[test]
    fn a_guitar_goes_over_open_strings() {
        let scale = [43, 45, 47, 48, 50, 52, 54, 55];
        let frets = [(0, 3), (1, 0), (1, 2), (1, 3), (2, 0), (2, 2), (2, 4), (3, 0)];
        assert_eq!(places(Neck::GUITAR, &scale), frets);
    }

    #[test]
    fn two_strings_side_by_side_sound_the_chord() {
        let chord = Chord::parse("G").unwrap();
        let note = MidiNote::clamped(71);
        let place = Place { string: 2, fret: 2, hand: 1 };
        // B on the A string over the open D or the G beside it.
        let beside = Neck::FIDDLE.beside(place, note, &chord, false).unwrap();
        assert_eq!((beside.0, beside.1.get()), (1, 62));
        assert_eq!(
            Neck::BASS.beside(Place { string: 0, fret: 0, hand: 1 }, note, &chord, false),
            None
        );
    }
}
