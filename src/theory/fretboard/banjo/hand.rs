use super::ways::{Places, Way, ways};
use super::{BANJO, Finger, LONG_STRINGS, RollShape, SHORT_STRING, number_at, place_of};
use super::{Drone, low_shape, short_string_fits, short_string_rings, sounding};
use crate::theory::{Chord, MidiNote};

/// A chord under a banjo player's left hand, low on the neck: what each string has, and where notes
/// beside the chord are found without moving the hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BanjoHand {
    shape: RollShape,
    short: bool,
    pub(super) root: u8,
}

/// What another string costs that is picked in place of the one that is written, in the order in which
/// the thumb takes them: the third and the fourth are its own, on the second it meets the index finger.
const INSTEAD: [(u8, u32); 4] = [(3, 1), (4, 1), (2, 3), (1, 6)];

/// What it costs to leave a note out: as little as may be against a stop, more than a finger on a
/// string that is not its own.
const SILENCE: u32 = 50;

/// What it costs to pick a bass note with another finger than the thumb.
const OTHER_FINGER: u32 = 20;

/// What it costs to leave out one of several strings that are picked together.
const FEWER: u32 = 30;

impl BanjoHand {
    /// The hand on a chord as it sounds, with the capo at a fret (held to 0..=12), and the short string as the player
    /// has it.
    pub fn new(chord: &Chord, capo: u8, drone: Drone) -> Self {
        let shape = low_shape(chord, capo, drone);
        let short = short_string_rings(chord, shape.capo, drone);
        let root = (chord.root.pitch_class() + 12 - shape.capo % 12) % 12;
        Self { shape, short, root }
    }

    /// The hand on a closed shape of the chord; the short string rings beside it where it fits.
    pub fn closed(chord: &Chord, shape: RollShape) -> Self {
        let root = (chord.root.pitch_class() + 12 - shape.capo % 12) % 12;
        Self { shape, short: short_string_fits(chord, shape.capo), root }
    }

    /// The lowest fret that a finger stops, counted from the capo; 0 where every string is open.
    pub fn lowest(&self) -> u8 {
        self.shape.frets.iter().flatten().copied().filter(|&fret| fret > 0).min().unwrap_or(0)
    }

    /// The shape on the long strings.
    pub const fn shape(&self) -> &RollShape {
        &self.shape
    }

    /// The fret that a string, 1 to 5, is held at; `None` where it does not fit the chord.
    pub fn fret(&self, number: u8) -> Option<u8> {
        if number == SHORT_STRING {
            return self.short.then_some(0);
        }
        self.shape.frets.get(place_of(number)).copied().flatten()
    }

    /// What a string, 1 to 5, sounds; `None` where it does not fit the chord.
    pub fn note(&self, number: u8) -> Option<MidiNote> {
        Some(sounding(number, self.fret(number)?, self.shape.capo))
    }

    /// True if the hand reaches a note of a pitch class beside the chord without letting go of it.
    pub fn reaches_note(&self, class: u8) -> bool {
        !self.found((class + 12 - self.shape.capo % 12) % 12, false).is_empty()
    }

    /// The ways to pick the strings of the numbers given, 1 to 5, three at most, at once. Where one of
    /// them does not fit the chord, another takes its place; where a finger is busy, too.
    pub fn strings(&self, numbers: impl Iterator<Item = u8>) -> Vec<Way> {
        let wanted: Vec<Places> = numbers.map(|number| self.places(number)).collect();
        ways(&wanted, false, FEWER, SILENCE)
    }

    /// The ways to pick a note of a pitch class beside the strings given: on a string within the hand's
    /// reach, a low one if it leads to another chord. Where there is none, the root.
    pub fn note_and_strings(
        &self,
        class: u8,
        leads: bool,
        numbers: impl Iterator<Item = u8>,
    ) -> Vec<Way> {
        let class = (class + 12 - self.shape.capo % 12) % 12;
        let found = self.found(class, leads);
        let note = if found.is_empty() { self.found(self.root, false) } else { found };
        let wanted: Vec<Places> =
            std::iter::once(note).chain(numbers.map(|number| self.places(number))).collect();
        ways(&wanted, leads, FEWER, SILENCE)
    }

    /// The ways to pick a bass note of a pitch class with the thumb if it is free, and the strings given beside it:
    /// as low as the hand reaches. Where there is none, a note of the shape.
    pub fn bass_and_strings(&self, class: u8, numbers: impl Iterator<Item = u8>) -> Vec<Way> {
        let class = (class + 12 - self.shape.capo % 12) % 12;
        let low = |places: Places| -> Places {
            places.into_iter().filter(|(number, ..)| (2..=4).contains(number)).collect()
        };
        let found = low(self.found(class, true));
        let note = if found.is_empty() { low(self.places(4)) } else { found };
        let wanted: Vec<Places> =
            std::iter::once(note).chain(numbers.map(|number| self.places(number))).collect();
        let mut ways = ways(&wanted, false, FEWER, SILENCE);
        let by_thumb = |way: &Way| {
            let lowest = way.plucks.iter().min_by_key(|pluck| pluck.pitch(0));
            lowest.is_none_or(|pluck| pluck.finger == Finger::Thumb)
        };
        ways.iter_mut().filter(|way| !by_thumb(way)).for_each(|way| way.cost += OTHER_FINGER);
        ways.sort_by_key(|way| way.cost);
        ways
    }

    /// Where a string that is written may be played.
    fn places(&self, number: u8) -> Places {
        let others = |extra: u32| {
            let instead = INSTEAD.into_iter().filter(move |(other, _)| *other != number);
            instead.filter_map(move |(other, cost)| Some((other, self.fret(other)?, cost + extra)))
        };
        match self.fret(number) {
            // The short string is the thumb's alone, so where the thumb has just played, another.
            Some(fret) if number == SHORT_STRING => {
                std::iter::once((number, fret, 0)).chain(others(10)).collect()
            }
            Some(fret) => vec![(number, fret, 0)],
            None => others(0).collect(),
        }
    }

    /// Where a pitch class, as it would sound without the capo, lies within reach: string, fret, cost.
    fn found(&self, class: u8, low: bool) -> Places {
        let highest = self.shape.frets.iter().flatten().max().map_or(0, |fret| fret + 1);
        let frets = 0..=highest.max(FIRST_POSITION);
        let mut places: Places = (0..LONG_STRINGS)
            .flat_map(|place| frets.clone().map(move |fret| (place, fret)))
            .filter(|&(place, fret)| {
                let open = BANJO.open.get(place).copied().unwrap_or_default();
                (open + fret) % 12 == class && self.reaches(place, fret)
            })
            .map(|(place, fret)| (number_at(place), fret, self.trouble(place, fret, low)))
            .collect();
        places.sort_by_key(|&(_, _, cost)| cost);
        places.truncate(4);
        places
    }

    /// True if the hand can hold its shape but for one string, and that at the fret.
    fn reaches(&self, place: usize, fret: u8) -> bool {
        let mut frets = self.shape.frets;
        if let Some(string) = frets.get_mut(place) {
            *string = Some(fret);
        }
        BANJO.reach.holds(&frets)
    }

    /// What it costs to have the note there. Common practice, no source: a lead-in lies on the low
    /// strings, as a bass run does; any other note on the first, where it is heard; and the finger goes
    /// no further than it must.
    fn trouble(&self, place: usize, fret: u8, low: bool) -> u32 {
        let string = match (number_at(place), low) {
            (3 | 4, true) | (1, false) => 0,
            (2, _) | (4, false) => 1,
            (3, false) => 2,
            _ => 5,
        };
        let held = self.shape.frets.get(place).copied().flatten().unwrap_or(fret);
        let pitch = sounding(number_at(place), fret, self.shape.capo);
        // Another string sounds the same already, and one of the two would be lost.
        let twin = (1..=SHORT_STRING)
            .filter(|&other| place_of(other) != place)
            .any(|other| self.note(other) == Some(pitch));
        string + u32::from(held.abs_diff(fret)) + 4 * u32::from(twin)
    }
}

/// The frets that lie under a hand at the nut.
const FIRST_POSITION: u8 = 4;
