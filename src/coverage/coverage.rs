use serde::Serialize;

use super::{Job, Place};
use crate::arrange::{Arrangement, Bar};
use crate::chart::{Lead, Role, RoleSet};
use crate::perform::Performance;
use crate::time::Ticks;

/// How far a note may lie from its place on the grid and still be heard there: half a step.
const REACH: i64 = 2;

/// What the singer does in a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Singing {
    /// Sings, in the whole bar or a part of it.
    Sings,
    /// Pauses for the bar.
    Pauses,
    /// Nobody sings in this pass.
    Nobody,
}

/// How much of each part of the beat is covered, in thousandths: downbeats, backbeats, ands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Shares {
    /// Of the downbeats.
    pub down: u16,
    /// Of the backbeats.
    pub back: u16,
    /// Of what lies between.
    pub and: u16,
}

impl Shares {
    /// That of one part of the beat.
    pub const fn of(&self, place: Place) -> u16 {
        match place {
            Place::Down => self.down,
            Place::Back => self.back,
            Place::And => self.and,
        }
    }
}

/// A place of a bar and how far the band covers it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SlotCoverage {
    /// Where it lies, on the even grid.
    pub at: Ticks,
    /// Which part of the beat it is.
    pub place: Place,
    /// How much of it is covered, in thousandths, by loudness: 1000 where it is as loud as a player of the
    /// job would have it.
    pub level: u16,
    /// Who sounds there.
    pub by: RoleSet,
}

/// A bar and what is left open in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BarCoverage {
    /// Its places, in order.
    pub slots: Vec<SlotCoverage>,
    /// How much of each part of the beat is covered.
    pub shares: Shares,
    /// What the singer does.
    pub singing: Singing,
    /// Who rests in it though the band has the role: the open chairs, and who leads.
    pub open: RoleSet,
    /// What is left for the player to do.
    pub job: Job,
}

/// What the band covers, bar for bar: one for each of [`Arrangement::bars`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coverage {
    /// The bars.
    pub bars: Vec<BarCoverage>,
}

/// What a performance covers, leaving out the roles that are silenced.
pub fn coverage(song: &Arrangement, played: &Performance, silenced: RoleSet) -> Coverage {
    let mut bars: Vec<BarCoverage> =
        song.bars.iter().map(|bar| empty(song, bar, silenced)).collect();
    for part in
        played.parts.iter().filter(|part| !silenced.contains(part.role) && part.role != Role::Lead)
    {
        for note in &part.notes {
            let at = note.bar as usize;
            let (Some(bar), Some(covered)) = (song.bars.get(at), bars.get_mut(at)) else {
                continue;
            };
            let step = Place::grid(bar.meter).get();
            let near = covered
                .slots
                .iter_mut()
                .find(|slot| (note.start - slot.at).get().abs() * REACH <= step);
            if let Some(slot) = near {
                slot.level = 1000;
                slot.by = slot.by.with(part.role);
            }
        }
    }
    for (bar, covered) in song.bars.iter().zip(&mut bars) {
        let share = |place| {
            let of: Vec<u32> = covered
                .slots
                .iter()
                .filter(|slot| slot.place == place)
                .map(|slot| u32::from(slot.level))
                .collect();
            let count = u32::try_from(of.len()).unwrap_or(1).max(1);
            u16::try_from(of.iter().sum::<u32>() / count).unwrap_or(1000)
        };
        covered.shares =
            Shares { down: share(Place::Down), back: share(Place::Back), and: share(Place::And) };
        covered.job = job(song, bar, covered);
    }
    Coverage { bars }
}

fn empty(song: &Arrangement, bar: &Bar, silenced: RoleSet) -> BarCoverage {
    let slots = Place::slots(bar.meter)
        .map(|(at, place)| SlotCoverage { at: bar.start + at, place, level: 0, by: RoleSet::EMPTY })
        .collect();
    let singing = match (bar.facts.singer_sings, bar.facts.singer_pauses) {
        (true, _) => Singing::Sings,
        (false, true) => Singing::Pauses,
        (false, false) => Singing::Nobody,
    };
    let open = song
        .band
        .iter()
        .filter(|&role| bar.resting.contains(role) || silenced.contains(role))
        .collect();
    BarCoverage { slots, shares: Shares::default(), singing, open, job: Job::Rest }
}

fn job(song: &Arrangement, bar: &Bar, covered: &BarCoverage) -> Job {
    let leads = song.passes.get(bar.pass).and_then(|pass| pass.lead);
    let missing = |place| covered.shares.of(place) < 500;
    match (missing(Place::Down), missing(Place::Back)) {
        _ if leads == Some(Lead::Banjo) => Job::Lead,
        (true, true) => Job::BoomVamp,
        (true, false) => Job::Boom,
        (false, true) => Job::Vamp,
        _ if covered.singing == Singing::Pauses => Job::Fill,
        _ if missing(Place::And) && covered.singing != Singing::Sings => Job::Roll,
        _ => Job::LayBack,
    }
}
