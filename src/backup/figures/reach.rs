//! Which licks fit a place, and whether the left hand comes to them in time.

use super::maker::{FASTEST_SLUR, Maker};
use crate::backup::figure::frets;
use crate::backup::lick::{FittedLick, LickSlot, Purpose, Wanted};
use crate::backup::shift::{Range as Frets, millis_between};
use crate::backup::slot::FASTEST_MILLIS;
use crate::backup::stance::Kind;
use crate::backup::steps::{Step, meter_of};
use crate::coverage::Job;
use crate::theory::fretboard::banjo::{SHORT_STRING, short_string_rings, sounding};
use crate::theory::{Chord, MidiNote, Scale, added_sixth};
use crate::time::Ticks;

/// How far above a closed shape its sixth lies at most, in frets.
const SIXTH: u8 = 2;

impl Maker<'_> {
    /// The licks for a purpose that stand over the chord of a step.
    pub(super) fn licks(
        &self,
        purpose: Purpose,
        step: &Step,
        to: Option<&Chord>,
    ) -> Vec<FittedLick> {
        let (Some(bar), Some(chord)) = (self.song.bars.get(step.bar), self.chord(step)) else {
            return Vec::new();
        };
        let meter = meter_of(self.song, bar);
        let root = (chord.root.pitch_class() + 12 - self.capo % 12) % 12;
        let beats_per_minute = self.song.pace.beats_per_minute(meter);
        let wanted = Wanted { purpose, meter, beats_per_minute, chord, root };
        let millis = self.millis(step.length);
        let rings = short_string_rings(chord, self.capo, self.song.drone);
        let fits = |fitted: &FittedLick| {
            let lick = &fitted.lick;
            let quick = lick.notes().any(|note| note.finger.is_some() && note.slur.is_some());
            let dense = lick.slots.iter().zip(lick.slots.iter().skip(1)).any(|(one, next)| {
                let picks = |slot: &LickSlot| slot.notes().iter().any(|note| note.finger.is_some());
                picks(one) && picks(next)
            });
            lick.level <= self.player.level
                && (rings || lick.notes().all(|note| note.string != SHORT_STRING))
                && self.belongs(fitted, chord)
                && (!quick || millis / 2.0 >= FASTEST_SLUR)
                && (!dense || millis >= FASTEST_MILLIS)
        };
        self.player.licks.fitting(wanted, to).into_iter().filter(fits).collect()
    }

    /// True if what a lick plays is of the chord or of the scale of the moment, or on its way by step: a lick over a
    /// major chord may have a ninth that a minor key does not know.
    fn belongs(&self, fitted: &FittedLick, chord: &Chord) -> bool {
        /// On its way is what goes on within a quarter.
        const SOON: usize = 2;
        let scale = Scale::of(self.song.key, chord);
        let sixth = added_sixth(chord, self.song.key);
        let slots: Vec<LickSlot> = fitted.slots().into_iter().chain(fitted.arrives()).collect();
        let sounds: Vec<Vec<MidiNote>> = slots.iter().map(|slot| self.sounds(slot)).collect();
        // What it arrives on is of the chord that comes.
        let own = sounds.get(..fitted.lick.slots.len()).unwrap_or_default();
        own.iter().enumerate().all(|(at, notes)| {
            notes.iter().all(|note| {
                let class = note.pitch_class();
                let later = sounds.iter().skip(at).take(SOON + 1).flatten();
                let mut apart = later.map(|next| next.get().abs_diff(note.get()));
                chord.contains(class)
                    || sixth == Some(class)
                    || scale.has(i32::from(class))
                    || apart.any(|apart| matches!(apart, 1 | 2))
            })
        })
    }

    /// What a step sounds on the long strings, slurs and all. The short one drones over everything.
    fn sounds(&self, slot: &LickSlot) -> Vec<MidiNote> {
        let long = slot.notes().iter().filter(|note| note.string != SHORT_STRING);
        let notes = long.flat_map(|note| {
            [note.fret, note.ends_at()].map(|fret| sounding(note.string, fret, self.capo))
        });
        notes.collect()
    }

    /// True if the left hand comes to a lick in time, from what is held before it, and away to what comes after.
    pub(super) fn reaches(&self, fitted: &FittedLick, end: usize, next: Option<Step>) -> bool {
        let slots = fitted.slots();
        let Some(first) = end.checked_sub(slots.len()) else { return false };
        let mut path: Vec<(Ticks, Frets)> = Vec::new();
        if let Some(before) = first.checked_sub(1).and_then(|before| self.steps.get(before)) {
            path.extend(self.stopped(before).map(|frets| (before.at, frets)));
        }
        if let Some(hand) = self.hand {
            path.push(hand);
        }
        let mut last = None;
        for (step, slot) in self.steps.get(first..end).unwrap_or_default().iter().zip(&slots) {
            path.extend(moves(step, slot));
            last = Some(*step);
        }
        let Some(last) = last else { return false };
        let arrives = fitted.arrives().filter(|_| next.is_some());
        path.extend(arrives.as_ref().and_then(frets).map(|frets| (last.end(), frets)));
        // What the pattern stops after it: not before the step after where it arrives.
        let after = next.map(|next| if arrives.is_some() { self.after(&next) } else { next });
        path.extend(self.following.or_else(|| self.stops_next(&after?)));
        path.sort_by_key(|(at, _)| *at);
        path.iter()
            .zip(path.iter().skip(1))
            .all(|((at, from), (then, to))| millis_between(*from, *to) <= self.millis(*then - *at))
    }

    /// True if a lick that ends at a step stands well where it is put: a tone of the chord on each first beat that it
    /// takes, and near where the hand is before and after.
    pub(super) fn sits(&self, fitted: &FittedLick, end: usize, next: Option<&Step>) -> bool {
        let slots = fitted.slots();
        let own = end.checked_sub(slots.len()).and_then(|first| self.steps.get(first..end));
        let Some((own, last)) = own.and_then(|own| Some((own, own.last()?))) else { return false };
        let on_the_one = own.iter().zip(&slots).filter(|(step, _)| {
            self.song.bars.get(step.bar).is_some_and(|bar| bar.start == step.at)
        });
        let mut names = on_the_one.map(|(step, slot)| {
            let Some(chord) = self.chord(step) else { return true };
            let mut sounds = slot.notes().iter().flat_map(|note| {
                [note.fret, note.ends_at()].map(|fret| sounding(note.string, fret, self.capo))
            });
            slot.notes().is_empty() || sounds.any(|note| chord.contains(note.pitch_class()))
        });
        names.all(|named| named) && self.is_near(fitted, last, next)
    }

    /// True if a lick lies where the hand is: between vamps around them, and otherwise no short trip far up the neck,
    /// where a capo has made it shorter.
    fn is_near(&self, fitted: &FittedLick, last: &Step, next: Option<&Step>) -> bool {
        /// How far below and above the fret of the first finger it goes, in frets.
        const AROUND: (u8, u8) = (3, 7);
        /// The highest fret from the nut for a player who is down the neck, and the steps that are worth the way.
        const HIGHEST: u8 = 12;
        const WORTH: usize = 4;
        let stopped = fitted.slots().into_iter().chain(fitted.arrives());
        let range: Vec<Frets> = stopped.filter_map(|slot| frets(&slot)).collect();
        let low = range.iter().map(|(low, _)| *low).min().unwrap_or(0);
        let high = range.iter().map(|(_, high)| *high).max().unwrap_or(0);
        if self.stays_up(last, next) {
            let steps = [Some(last), next].into_iter().flatten();
            let mut stances = steps.filter_map(|step| self.stance(step));
            return is_up(fitted)
                && stances.any(|stance| {
                    let at = stance.position();
                    low + AROUND.0 >= at && high <= at + AROUND.1
                });
        }
        let vamps = |step: &Step| self.stance(step).is_some_and(|it| it.kind != Kind::Low);
        let is_down = !vamps(last) && !next.is_some_and(vamps);
        !is_down
            || !is_up(fitted)
            || range.is_empty()
            || (high + self.capo <= HIGHEST && fitted.lick.slots.len() >= WORTH)
    }

    /// True if the hand vamps up the neck before and after: what is played in between stays there.
    pub(super) fn stays_up(&self, last: &Step, next: Option<&Step>) -> bool {
        let vamps = |step| self.stance(step).is_some_and(|stance| stance.kind == Kind::Vamp);
        vamps(last) && next.is_none_or(vamps)
    }

    /// The step after one.
    pub(super) fn after(&self, step: &Step) -> Step {
        Step { at: step.end(), ..*step }
    }

    /// What the left hand stops in a pattern at a step, if anything: the chord, and the sixth beside it.
    pub(super) fn stopped(&self, step: &Step) -> Option<Frets> {
        let stance = self.stance(step)?;
        let frets = stance.hand.shape().frets;
        let stopped = || frets.iter().flatten().copied().filter(|fret| *fret > 0);
        let (low, high) = (stopped().min()?, stopped().max()?);
        let sixth = if stance.kind == Kind::Low { 0 } else { SIXTH };
        Some((low, high + sixth))
    }

    /// The same from a step on, with the time when it is wanted: what vamps is struck on the beat after.
    pub(super) fn stops_next(&self, step: &Step) -> Option<(Ticks, Frets)> {
        let vamps = self.stance(step)?.kind == Kind::Vamp && self.job(step) != Job::Fill;
        let at = if vamps { step.end() } else { step.at };
        Some((at, self.stopped(step)?))
    }
}

/// True if nothing in it is stopped down by the nut, where the open position is.
pub(super) fn is_up(fitted: &FittedLick) -> bool {
    /// Three frets lie under a hand in open position.
    const OPEN_POSITION: u8 = 3;
    let stopped = fitted.slots().into_iter().chain(fitted.arrives());
    let mut stopped = stopped.filter_map(|slot| frets(&slot));
    stopped.all(|(low, _)| low > OPEN_POSITION)
}

/// What a step stops, and half a step later what it is slurred to.
pub(super) fn moves(step: &Step, slot: &LickSlot) -> Vec<(Ticks, Frets)> {
    let later = step.at + Ticks::new(step.length.get() / 2);
    let notes = slot.notes().iter().flat_map(|note| {
        let to = if note.finger.is_some() && note.slur.is_some() { later } else { step.at };
        [(step.at, note.fret), (to, note.ends_at())]
    });
    let mut found: Vec<(Ticks, Frets)> =
        notes.filter(|(_, fret)| *fret > 0).map(|(at, fret)| (at, (fret, fret))).collect();
    found.sort_by_key(|(at, _)| *at);
    found
}
