//! Where the left hand is, chord for chord: low on the neck or up it, moving as little as it may.

use std::collections::HashMap;

use super::bars::BarPlan;
use crate::arrange::{Arrangement, BarKind, ChordId};
use crate::coverage::Job;
use crate::theory::Chord;
use crate::theory::fretboard::banjo::{
    BanjoHand, Drone, RollShape, closed_shapes, short_string_rings, vamp_shapes,
};
use crate::theory::fretboard::{Shape, least_movement};

/// From so many bars of one vamped chord on, the hand goes to another inversion and back.
const LONG: usize = 4;

/// For so many bars it stays on each.
const STAY: usize = 2;

/// How far away another inversion lies at most, in frets: the three of a chord share out an octave.
const FARTHEST: u8 = 7;

/// What it costs to hold a chord open where the short string does not fit it: a hand that lies near a closed one
/// takes that.
const OPEN: u32 = 10;

/// The highest note without a capo, middle C, that is a boom and no second chick, and what each semitone above it
/// costs: a fret there and back.
const HIGHEST_BOOM: u8 = 60;
const THIN: u32 = 4;

/// A chord as the left hand holds it for a while.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stance {
    /// What each string has.
    pub hand: BanjoHand,
    /// What for.
    pub kind: Kind,
    cost: u32,
}

/// What a chord is held for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Kind {
    /// Low on the neck, with open strings.
    Low,
    /// Closed on the four long strings.
    Closed,
    /// Closed and short, on three of them.
    Vamp,
}

impl Stance {
    /// Where the hand is: the fret of its first finger; 1 where every string is open.
    pub fn position(&self) -> u8 {
        self.hand.lowest().max(1)
    }
}

impl Shape for Stance {
    fn cost(&self) -> u32 {
        self.cost
    }

    fn position(&self) -> u8 {
        Self::position(self)
    }

    fn movement_between(&self, here: u8, other: &Self, there: u8) -> u32 {
        // The fret of each finger within the hand.
        let within = |stance: &Self, at: u8| {
            stance.hand.shape().frets.map(|fret| fret.map(|fret| i32::from(fret) - i32::from(at)))
        };
        let (from, to) = (within(self, here), within(other, there));
        let moved = from.iter().zip(&to).filter(|(from, to)| from != to).count();
        2 * u32::from(here.abs_diff(there)) + moved as u32
    }
}

/// The hand on each chord of each bar.
pub(super) struct Stances {
    /// Where each bar's chords begin among them all.
    first: Vec<usize>,
    all: Vec<Option<Stance>>,
}

/// A chord as far as it sounds in one bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Held {
    chord: ChordId,
    kind: Kind,
    /// True if the thumb plays the downbeats too.
    booms: bool,
}

impl Stances {
    /// For bars as they are planned. `closed` says that the hand may leave the open chords where the short string
    /// does not fit.
    pub fn new(song: &Arrangement, plans: &[BarPlan], closed: bool, capo: u8) -> Self {
        let mut first = Vec::with_capacity(song.bars.len());
        let mut held: Vec<Option<Held>> = Vec::new();
        for (index, (bar, plan)) in song.bars.iter().zip(plans).enumerate() {
            first.push(held.len());
            let groove = bar.kind == BarKind::Groove;
            held.extend(bar.spans.clone().map(|span| {
                let chord = song.spans.get(span)?.chord?;
                let rings = short_string_rings(song.chord(chord)?, capo, song.drone);
                let higher = !rings || moves_up(song, plans, index, span);
                let kind = match plan.job {
                    _ if groove && plan.up => Kind::Vamp,
                    Job::Roll | Job::RollWith | Job::RollSoft | Job::Fill | Job::Lead
                        if groove && closed && higher =>
                    {
                        Kind::Closed
                    }
                    _ => Kind::Low,
                };
                Some(Held { chord, kind, booms: plan.job == Job::BoomVamp })
            }));
        }
        let mut numbers: HashMap<Held, usize> = HashMap::new();
        let mut candidates: Vec<Vec<Stance>> = Vec::new();
        let mut sequence = Vec::new();
        for held in held.iter().flatten() {
            let next = candidates.len();
            let number = *numbers.entry(*held).or_insert(next);
            if number == next {
                let chord = song.chord(held.chord);
                let found = |chord| stances(chord, *held, capo, song.drone);
                candidates.push(chord.map_or_else(Vec::new, found));
            }
            sequence.push(number);
        }
        let mut chosen = least_movement(&candidates, &sequence);
        move_about(&candidates, &sequence, &mut chosen);
        let mut found = sequence.iter().zip(chosen).map(|(&number, choice)| {
            candidates.get(number).and_then(|stances| stances.get(choice)).copied()
        });
        let all = held.iter().map(|held| (*held).and_then(|_| found.next()?)).collect();
        Self { first, all }
    }

    /// The hand in a bar on one of its spans.
    pub fn of(&self, song: &Arrangement, bar: usize, span: usize) -> Option<&Stance> {
        let within = span.checked_sub(song.bars.get(bar)?.spans.start)?;
        self.all.get(*self.first.get(bar)? + within)?.as_ref()
    }

    /// The same in two plans for a bar.
    pub fn same(&self, other: &Self, song: &Arrangement, bar: usize) -> bool {
        let mut spans = song.bars.get(bar).map_or(0..0, |bar| bar.spans.clone());
        spans.all(|span| self.of(song, bar, span) == other.of(song, bar, span))
    }
}

/// True for the bars of a long chord under a break in which the hand goes up the neck: the second two of four.
fn moves_up(song: &Arrangement, plans: &[BarPlan], index: usize, span: usize) -> bool {
    let Some(own) = song.spans.get(span) else { return false };
    let rolls = |index: usize| {
        let bar = song.bars.get(index);
        let alone = bar.is_some_and(|bar| {
            bar.kind == BarKind::Groove
                && bar.spans.len() == 1
                && bar.sung == 0
                && bar.stops.is_empty()
        });
        let job = plans.get(index).map(|plan| plan.job);
        alone
            && matches!(job, Some(Job::Roll | Job::RollWith))
            && bar.is_some_and(|bar| own.start <= bar.start && bar.end() <= own.end)
    };
    let before = (0..index).rev().take_while(|index| rolls(*index)).count();
    let after = (index..plans.len()).take_while(|index| rolls(*index)).count();
    let group = before / STAY;
    // The last bars are left to what comes after.
    before + after >= LONG && !group.is_multiple_of(2) && (group + 1) * STAY < before + after
}

/// The ways to hold a chord.
fn stances(chord: &Chord, Held { kind, booms, .. }: Held, capo: u8, drone: Drone) -> Vec<Stance> {
    let low = Stance { hand: BanjoHand::new(chord, capo, drone), kind: Kind::Low, cost: 0 };
    let closed =
        |shape: RollShape, kind, cost| Stance { hand: BanjoHand::closed(chord, shape), kind, cost };
    let found: Vec<Stance> = match kind {
        Kind::Low => Vec::new(),
        Kind::Closed => (0..)
            .zip(closed_shapes(chord, capo))
            .map(|(order, shape)| {
                let frets = RollShape { frets: shape.frets, capo: shape.capo };
                closed(frets, Kind::Closed, order)
            })
            .collect(),
        Kind::Vamp => vamp_shapes(chord, capo)
            .into_iter()
            .map(|shape| {
                let frets = RollShape { frets: shape.frets, capo: shape.capo };
                let stance = closed(frets, Kind::Vamp, shape.cost);
                let thin = if booms { THIN * semitones_too_high(&stance.hand, chord) } else { 0 };
                Stance { cost: stance.cost + thin, ..stance }
            })
            .collect(),
    };
    // For a single chord the hand does not go up the neck and back.
    let below = Stance { cost: OPEN, ..low };
    match kind {
        Kind::Closed => found.into_iter().chain([below]).collect(),
        _ if found.is_empty() => vec![low],
        _ => found,
    }
}

/// By how much the chord's root lies too high for a boom where the thumb finds it without the left hand letting go
/// of the chord.
fn semitones_too_high(hand: &BanjoHand, chord: &Chord) -> u32 {
    let ways = hand.bass_and_strings(chord.root.pitch_class(), std::iter::empty());
    let plucks = ways.first().map(|way| way.plucks);
    let boom = plucks.and_then(|plucks| plucks.iter().map(|pluck| pluck.pitch(0).get()).min());
    boom.map_or(0, |boom| u32::from(boom.saturating_sub(HIGHEST_BOOM)))
}

/// In a long stretch of one vamped chord, goes to another inversion and back, two bars each.
fn move_about(candidates: &[Vec<Stance>], sequence: &[usize], chosen: &mut [usize]) {
    let mut start = 0;
    for run in sequence.chunk_by(|a, b| a == b) {
        let bars = start..start + run.len();
        start = bars.end;
        let stances = run.first().and_then(|number| candidates.get(*number));
        let Some(stances) = stances.filter(|_| run.len() >= LONG) else { continue };
        for (at, bar) in bars.enumerate() {
            let group = at / STAY;
            // The last bars are left to what comes after.
            if group.is_multiple_of(2) || (group + 1) * STAY >= run.len() {
                continue;
            }
            let Some(choice) = chosen.get_mut(bar) else { continue };
            let Some(home) = stances.get(*choice).filter(|home| home.kind == Kind::Vamp) else {
                continue;
            };
            let near = |(_, stance): &(usize, &Stance)| {
                let far = home.position().abs_diff(stance.position());
                (1..=FARTHEST).contains(&far)
            };
            let way = |stance: &Stance| {
                stance.cost + home.movement_between(home.position(), stance, stance.position())
            };
            let others = stances.iter().enumerate().filter(near);
            if let Some((other, _)) = others.min_by_key(|(_, stance)| way(stance)) {
                *choice = other;
            }
        }
    }
}
