//! Which finger has which note of a tune, and what is rolled around them.

use std::collections::{HashMap, HashSet};

use super::action::{Action, best};
use super::grid::{GridStep, Onset};
use super::left_hand::Place;
use super::slur;
use super::{TuneLevel, TuneNote, TuneStep};
use crate::arrange::{Arrangement, ChordId};
use crate::perform::hands::SlurKind;
use crate::style::Loud;
use crate::theory::Chord;
use crate::theory::fretboard::banjo::{
    BanjoHand, Finger, LONG_STRINGS, Pluck, Plucks, SHORT_STRING, number_at, sounding,
};
use crate::time::Ticks;

/// No finger picks twice in a row within this time.
const SOON: Ticks = Ticks::EIGHTH;

/// A hand that goes so many frets leaps.
const LEAP: u8 = 5;

/// A tune that waits for so many steps leaves room for something of its own.
const WAITS: usize = 4;

/// What it costs; common practice, no source, and the figures are ours.
mod weight {
    /// To leave a note of the tune out: more than all that stands beside it.
    pub const LEFT_OUT: u32 = 4000;
    /// A note of the tune with a finger that has its string only at need.
    pub const AT_NEED: u32 = 10;
    /// Nothing, where the roll should go on.
    pub const SILENCE: u32 = 9;
    /// To cut the note of the tune that still sounds.
    pub const CUTS: u32 = 8;
    /// To pick its string when it is over.
    pub const ITS_STRING: u32 = 1;
    /// What sounds the same as the tune.
    pub const TWIN: u32 = 3;
    /// Another way than the slur that is meant.
    pub const PLAIN: u32 = 6;
    /// A note between where few are wanted.
    pub const BETWEEN: u32 = 12;
    /// What a roll is picked on, by the string's number: the first and the short one sound above the tune.
    pub const STRING: [u32; 5] = [0, 1, 1, 4, 0];
}

/// The steps of a break.
pub(super) fn rolls(
    song: &Arrangement,
    steps: &[GridStep],
    places: &[Place],
    capo: u8,
    level: TuneLevel,
) -> Vec<TuneStep> {
    let roller = Roller::new(song, steps, places, capo, level);
    let actions: Vec<Vec<Action>> = (0..steps.len()).map(|at| roller.actions(at)).collect();
    let soon = steps.first().map_or(1, |step| SOON.get() / step.length.get().max(1));
    let chosen = best(&actions, soon);
    let sounds = roller.beats_with_tune();
    let step = |(at, (step, action)): (usize, (&GridStep, Action))| {
        let loud = match action.tune {
            true => Loud::Accent,
            false if sounds.contains(&roller.beat(at)) => Loud::Ghost,
            false => Loud::Normal,
        };
        let GridStep { at, length, bar, span, .. } = *step;
        TuneStep { at, length, bar, span, notes: action.notes(), is_tune: action.tune, loud }
    };
    steps.iter().zip(chosen).enumerate().map(step).collect()
}

struct Roller<'a> {
    song: &'a Arrangement,
    steps: &'a [GridStep],
    capo: u8,
    level: TuneLevel,
    /// The place of the tune's note that begins in a step.
    places: HashMap<usize, Place>,
    /// For each step the last note of the tune up to it, and the next one after it.
    last: Vec<Option<Place>>,
    next: Vec<Option<Place>>,
    hands: HashMap<ChordId, BanjoHand>,
    /// The notes of the tune that are slurred into.
    dressed: HashMap<usize, (SlurKind, u8)>,
    /// The beat that each step belongs to.
    beats: Vec<usize>,
}

impl<'a> Roller<'a> {
    fn new(
        song: &'a Arrangement,
        steps: &'a [GridStep],
        places: &[Place],
        capo: u8,
        level: TuneLevel,
    ) -> Self {
        let places: HashMap<usize, Place> =
            places.iter().map(|place| (place.step, *place)).collect();
        let mut so_far = None;
        let mut beat = 0;
        let (mut last, mut beats) = (Vec::new(), Vec::new());
        for (at, step) in steps.iter().enumerate() {
            so_far = places.get(&at).copied().or(so_far);
            last.push(so_far);
            beat += usize::from(step.beat);
            beats.push(beat);
        }
        let mut coming = None;
        let mut next: Vec<Option<Place>> = (0..steps.len())
            .rev()
            .map(|at| {
                let after = coming;
                coming = places.get(&at).copied().or(coming);
                after
            })
            .collect();
        next.reverse();
        let mut hands = HashMap::new();
        for step in steps {
            let id = song.spans.get(step.span).and_then(|span| span.chord);
            if let Some((id, chord)) = id.and_then(|id| Some((id, song.chord(id)?))) {
                hands.entry(id).or_insert_with(|| BanjoHand::new(chord, capo, song.drone));
            }
        }
        let dressed = HashMap::new();
        let mut roller =
            Self { song, steps, capo, level, places, last, next, hands, dressed, beats };
        if level == TuneLevel::Slurred {
            roller.dressed = roller.to_dress();
        }
        roller
    }

    fn beat(&self, at: usize) -> usize {
        self.beats.get(at).copied().unwrap_or_default()
    }

    fn beats_with_tune(&self) -> HashSet<usize> {
        self.places.keys().map(|at| self.beat(*at)).collect()
    }

    fn chord(&self, at: usize) -> Option<(&'a Chord, &BanjoHand)> {
        let id = self.song.spans.get(self.steps.get(at)?.span)?.chord?;
        Some((self.song.chord(id)?, self.hands.get(&id)?))
    }

    /// How many steps there are from a step to the next note of the tune.
    fn waits(&self, at: usize) -> usize {
        self.next.get(at).copied().flatten().map_or(self.steps.len(), |place| place.step) - at
    }

    /// The notes of the tune that are slurred into, one a bar at most: the first that stands on a beat, is no short one
    /// and is stopped. An open one is pulled off into in every other bar, where no other is.
    fn to_dress(&self) -> HashMap<usize, (SlurKind, u8)> {
        let mut found: HashMap<usize, (SlurKind, u8)> = HashMap::new();
        let mut done: Option<(usize, usize)> = None;
        for (at, step) in self.steps.iter().enumerate() {
            let (Some(tune), Some(place)) = (step.tune, self.places.get(&at)) else { continue };
            let free = step.beat && tune.then.is_none() && self.waits(at) >= 2;
            let before = done.filter(|(bar, _)| *bar == step.bar).map(|(_, before)| before);
            let pulled = before.is_some_and(|before| {
                found.get(&before).is_some_and(|(kind, _)| *kind == SlurKind::Pull)
            });
            let open = place.fret == 0;
            let full = before.is_some() && (open || !pulled);
            if !free || full || (open && step.bar % 2 == 1) || !slur::fits(self.song, step) {
                continue;
            }
            let lowest = *place.under().start();
            let to = (place.string, place.fret);
            let slur = self
                .chord(at)
                .and_then(|(chord, _)| slur::into(self.song, chord, to, lowest, self.capo))
                .filter(|(_, from)| self.lies_near(at, *from));
            if let Some(slur) = slur {
                if let Some(before) = before {
                    found.remove(&before);
                }
                found.insert(at, slur);
                done = Some((step.bar, at));
            }
        }
        found
    }

    /// True if a fret lies under one hand with the notes of the tune before and after a step.
    fn lies_near(&self, at: usize, fret: u8) -> bool {
        let before = at.checked_sub(1).and_then(|before| self.last.get(before)).copied().flatten();
        let after = self.next.get(at).copied().flatten();
        let near = |place: &Place| place.fret == 0 || place.fret.abs_diff(fret) < LEAP;
        fret == 0 || before.iter().chain(&after).all(near)
    }

    fn actions(&self, at: usize) -> Vec<Action> {
        let Some(step) = self.steps.get(at) else { return vec![Action::default()] };
        match (step.tune, self.places.get(&at)) {
            (Some(tune), Some(place)) => self.tune(at, step, tune, *place),
            _ => self.around(at, step),
        }
    }

    /// The ways to play a note of the tune.
    fn tune(&self, at: usize, step: &GridStep, tune: Onset, place: Place) -> Vec<Action> {
        let (string, fret) = (place.string, place.fret);
        let fits = slur::fits(self.song, step);
        let after = tune.then.filter(|_| fits).and_then(|then| {
            let to = (fret + then).checked_sub(tune.pitch)?;
            Some((slur::kind(string, fret, to)?, to))
        });
        let dressed = self.dressed.get(&at).copied();
        let alone = self.alone(at, step, place);
        let plain = if dressed.is_some() || alone.is_some() { weight::PLAIN } else { 0 };
        let mut found = vec![Action { cost: weight::LEFT_OUT, ..Action::default() }];
        found.extend(alone.map(|note| Action {
            alone: Some(note),
            tune: true,
            ..Action::default()
        }));
        for finger in Finger::ALL {
            let Some(cost) = strength(finger, string, step.beat) else { continue };
            let picked = |fret, slur, more: u32| {
                let action = Action::picks(Pluck { string, fret, finger }, cost + more)?;
                Some(Action { slur, tune: true, ..action })
            };
            found.extend(picked(fret, after, plain));
            found.extend(dressed.and_then(|(kind, from)| picked(from, Some((kind, fret)), 0)));
        }
        found
    }

    /// How the left hand alone comes to a note of the tune from the one right before it.
    fn alone(&self, at: usize, step: &GridStep, place: Place) -> Option<TuneNote> {
        if self.level < TuneLevel::Slurred || step.beat {
            return None;
        }
        let before = at.checked_sub(1)?;
        let (from, then) = (self.places.get(&before)?, self.steps.get(before)?);
        let same = from.string == place.string && then.span == step.span;
        let free = then.tune.is_some_and(|tune| tune.then.is_none());
        let quick = slur::in_time(self.song, step.length);
        let kind = slur::kind(place.string, from.fret, place.fret);
        let kind = kind.filter(|_| same && free && quick)?;
        let (string, fret) = (place.string, from.fret);
        Some(TuneNote { string, fret, finger: None, slur: Some((kind, place.fret)) })
    }

    /// What may be played where the tune has no note.
    fn around(&self, at: usize, step: &GridStep) -> Vec<Action> {
        let sparse = self.level == TuneLevel::Sparse;
        let with_tune = |other: usize| self.places.contains_key(&other);
        let before = at.checked_sub(1).is_some_and(with_tune);
        let fills = self.fills(at, step);
        let mut found = Vec::new();
        // Here and there a note between two of the tune: before every other beat.
        let even = self.beat(at).is_multiple_of(2);
        let between = before && with_tune(at + 1) && even;
        let (silence, single) = match (sparse, step.beat) {
            (true, true) => (weight::SILENCE, weight::SILENCE / 2),
            (true, false) if between => (weight::SILENCE, 0),
            (true, false) => (0, weight::BETWEEN),
            (false, _) => (weight::SILENCE, 0),
        };
        let slurs = self.slurs(at, step);
        let plain = if slurs.is_empty() { 0 } else { weight::PLAIN };
        found.push(Action { cost: silence + plain, ..Action::default() });
        for &(string, fret, cost) in &fills {
            for finger in Finger::ALL.into_iter().filter(|finger| finger.is_usual(string)) {
                let effort = finger.effort(string).unwrap_or_default();
                let cost = cost + effort + single + plain;
                found.extend(Action::picks(Pluck { string, fret, finger }, cost));
            }
        }
        found.extend(slurs);
        if sparse && step.beat {
            found.extend(pinches(&fills));
        }
        found
    }

    /// What a roll may pick in a step: string, fret and cost.
    fn fills(&self, at: usize, step: &GridStep) -> Vec<(u8, u8, u32)> {
        let Some((chord, hand)) = self.chord(at) else { return Vec::new() };
        let last = self.last.get(at).copied().flatten();
        let tone = |string, fret| chord.contains(sounding(string, fret, self.capo).pitch_class());
        let mut found = Vec::new();
        for string in (0..LONG_STRINGS).map(number_at).chain([SHORT_STRING]) {
            let held = hand.fret(string).filter(|fret| self.reaches(at, *fret));
            let others = || (0..=15).filter(|fret| self.reaches(at, *fret) && tone(string, *fret));
            let fret = if string == SHORT_STRING { held } else { held.or_else(|| others().next()) };
            let Some(fret) = fret else { continue };
            let weight = weight::STRING.get(usize::from(string).saturating_sub(1));
            let mut cost = weight.copied().unwrap_or_default();
            if let Some(place) = last {
                let end = self.steps.get(place.step).and_then(|step| step.tune);
                let sounds = end.is_some_and(|tune| tune.end > step.at);
                let pitch = |string, fret| sounding(string, fret, self.capo);
                if place.string == string {
                    cost += if sounds { weight::CUTS } else { weight::ITS_STRING };
                } else if sounds && pitch(place.string, place.fret) == pitch(string, fret) {
                    cost += weight::TWIN;
                }
            }
            found.push((string, fret, cost));
        }
        found
    }

    /// True if the left hand has a fret in a step, on its way from one note of the tune to the next.
    fn reaches(&self, at: usize, fret: u8) -> bool {
        let sides = [&self.last, &self.next].map(|side| side.get(at).copied().flatten());
        let under = |place: &Place| place.under().contains(&fret);
        // Where the tune is silent all through, near the nut.
        let low = fret <= 4 || sides.iter().any(Option::is_some);
        fret == 0 || (low && sides.iter().flatten().all(under))
    }

    /// Slurs of a roll where the tune waits: one in two beats, into a tone of the chord.
    fn slurs(&self, at: usize, step: &GridStep) -> Vec<Action> {
        let from = self.last.get(at).copied().flatten().map_or(0, |place| place.step);
        let gone = at.saturating_sub(from);
        let rests = gone % WAITS == 2 && gone + self.waits(at) >= WAITS && self.waits(at) >= 2;
        let wanted = self.level == TuneLevel::Slurred && step.beat && rests;
        let Some((chord, _)) = self.chord(at).filter(|_| wanted && slur::fits(self.song, step))
        else {
            return Vec::new();
        };
        let sides = [&self.last, &self.next].map(|side| side.get(at).copied().flatten());
        let lowest = sides.iter().flatten().map(|place| *place.under().start()).max().unwrap_or(1);
        let last = self.last.get(at).copied().flatten();
        let sounds = last.filter(|place| {
            let tune = self.steps.get(place.step).and_then(|step| step.tune);
            tune.is_some_and(|tune| tune.end > step.at)
        });
        let own = sounds.map(|place| sounding(place.string, place.fret, self.capo));
        let turn = (self.beat(at) / 2).is_multiple_of(2);
        let mut found = Vec::new();
        for (string, finger) in [(3, Finger::Thumb), (4, Finger::Thumb), (2, Finger::Index)] {
            for fret in (1..=15).filter(|fret| self.reaches(at, *fret)) {
                if !chord.contains(sounding(string, fret, self.capo).pitch_class())
                    || sounds.is_some_and(|place| place.string == string)
                {
                    continue;
                }
                let into = slur::into(self.song, chord, (string, fret), lowest, self.capo);
                let Some((kind, from)) = into else { continue };
                let pluck = Pluck { string, fret: from, finger };
                // Now on one string and now on another, and not on the tune's own note.
                let twin = own == Some(sounding(string, fret, self.capo));
                let cost = u32::from((string == 2) == turn) + 3 * weight::TWIN * u32::from(twin);
                let action = Action::picks(pluck, cost);
                found.extend(action.map(|it| Action { slur: Some((kind, fret)), ..it }));
            }
        }
        found
    }
}

/// What it costs to play a note of the tune with a finger: the strongest that has the string there.
fn strength(finger: Finger, string: u8, on_beat: bool) -> Option<u32> {
    Some(match (finger, string) {
        (Finger::Thumb, 3..=5) | (Finger::Middle, 1) => 0,
        (Finger::Thumb, 2) if on_beat => 0,
        (Finger::Thumb, 2) => 1,
        (Finger::Index, 2) if on_beat => 5,
        (Finger::Index, 2) => 0,
        (Finger::Index, 3) if on_beat => 8,
        (Finger::Index, 3) => 4,
        (Finger::Index, 1) => weight::AT_NEED / 2,
        (Finger::Thumb, 1) => 2 * weight::AT_NEED,
        (finger, string) => finger.effort(string).map(|effort| effort + weight::AT_NEED)?,
    })
}

/// Thumb and middle finger together, or thumb and index.
fn pinches(fills: &[(u8, u8, u32)]) -> Vec<Action> {
    let find = |string: u8| fills.iter().find(|(other, ..)| *other == string);
    let mut found = Vec::new();
    for low in [SHORT_STRING, 3, 4] {
        for (high, finger) in [(1, Finger::Middle), (2, Finger::Index)] {
            let (Some(low), Some(high)) = (find(low), find(high)) else { continue };
            let thumb = Pluck { string: low.0, fret: low.1, finger: Finger::Thumb };
            let other = Pluck { string: high.0, fret: high.1, finger };
            let plucks = Plucks::NONE.with(thumb).and_then(|plucks| plucks.with(other));
            let cost = low.2 + high.2;
            found.extend(plucks.map(|plucks| Action { plucks, cost, ..Action::default() }));
        }
    }
    found
}
