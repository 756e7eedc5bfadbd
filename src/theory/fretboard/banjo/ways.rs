use super::{Finger, sounding};
use crate::theory::MidiNote;

/// One string picked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Pluck {
    /// The string, 1 to 5.
    pub string: u8,
    /// The fret that it is stopped at, counted from the capo; 0 open.
    pub fret: u8,
    /// The finger that picks it.
    pub finger: Finger,
}

impl Pluck {
    /// What it sounds with the capo at a fret.
    pub fn pitch(&self, capo: u8) -> MidiNote {
        sounding(self.string, self.fret, capo)
    }
}

/// What is picked at once: at most one string a finger, none twice.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Plucks([Option<Pluck>; 3]);

impl Plucks {
    /// Nothing.
    pub const NONE: Self = Self([None; 3]);

    /// These and another, if its finger and its string are free.
    #[must_use]
    pub fn with(mut self, pluck: Pluck) -> Option<Self> {
        if self.iter().any(|other| other.string == pluck.string) {
            return None;
        }
        let place = self.0.get_mut(pluck.finger as usize)?;
        if place.is_some() {
            return None;
        }
        *place = Some(pluck);
        Some(self)
    }

    /// What each finger picks: thumb, index, middle.
    pub fn iter(&self) -> impl Iterator<Item = &Pluck> {
        self.0.iter().flatten()
    }

    /// True if nothing is picked.
    pub fn is_empty(&self) -> bool {
        self.iter().next().is_none()
    }

    /// True if a finger has something to do in both.
    pub fn share_a_finger(&self, other: &Self) -> bool {
        self.0.iter().zip(&other.0).any(|(a, b)| a.is_some() && b.is_some())
    }

    /// True if a string is picked in both.
    pub fn share_a_string(&self, other: &Self) -> bool {
        self.iter().any(|a| other.iter().any(|b| a.string == b.string))
    }

    /// True if the thumb has to cross the index finger from one to the other: it picks nearer to the first
    /// string.
    pub fn crosses(&self, other: &Self) -> bool {
        let crossed = |thumb: &Self, index: &Self| match (thumb.0, index.0) {
            ([Some(thumb), ..], [_, Some(index), _]) => thumb.string < index.string,
            _ => false,
        };
        crossed(self, other) || crossed(other, self)
    }

    /// True if index or middle finger picks the same string in both. The thumb may: it leads.
    pub fn repeat(&self, other: &Self) -> bool {
        let same = |(a, b): (&Option<Pluck>, &Option<Pluck>)| match (a, b) {
            (Some(a), Some(b)) => a.finger != Finger::Thumb && a.string == b.string,
            _ => false,
        };
        self.0.iter().zip(&other.0).any(same)
    }
}

/// One way to play what is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Way {
    /// What is picked.
    pub plucks: Plucks,
    /// How much it goes against the hands, or away from what is wanted; 0 could not be better.
    pub cost: u32,
    /// The pitch, without the capo, by which it leads on to another chord, if it does.
    pub leads: Option<u8>,
}

impl Way {
    /// The way of who says every string, fret and finger, as a lick does. `None` if a string or a finger comes
    /// twice.
    pub fn only(picked: &[Pluck]) -> Option<Self> {
        let plucks = picked.iter().try_fold(Plucks::NONE, |all, pluck| all.with(*pluck))?;
        Some(Self { plucks, cost: 0, leads: None })
    }
}

/// A moment at which something is picked, and the ways to do it.
#[derive(Clone, Debug)]
pub struct Moment {
    /// When, in any unit.
    pub at: i64,
    /// The ways, the best first. None of them wanted means that nothing is picked.
    pub ways: Vec<Way>,
}

/// What a moment asks for, each with the strings and frets that would do, and what each costs.
pub(super) type Places = Vec<(u8, u8, u32)>;

/// Every way to play one place of each of `wanted` at once, or if fingers are busy fewer of them, or
/// nothing at all.
///
/// `fewer` is what each one left out costs and `nothing` what silence does.
pub(super) fn ways(wanted: &[Places], lead: bool, fewer: u32, nothing: u32) -> Vec<Way> {
    let mut found = vec![Way { plucks: Plucks::NONE, cost: nothing, leads: None }];
    // The empty way grows by what is wanted, one after another, each left out or taken.
    let mut growing = vec![(Plucks::NONE, 0)];
    for places in wanted {
        let taken = growing.iter().flat_map(|&(plucks, cost)| {
            places.iter().flat_map(move |&(string, fret, place)| {
                Finger::ALL.into_iter().filter_map(move |finger| {
                    let effort = finger.effort(string)?;
                    let plucks = plucks.with(Pluck { string, fret, finger })?;
                    Some((plucks, cost + place + effort))
                })
            })
        });
        let taken: Vec<(Plucks, u32)> = taken.collect();
        growing.iter_mut().for_each(|(_, cost)| *cost += fewer);
        growing.extend(taken);
    }
    let leads = |plucks: &Plucks| {
        let lowest = plucks.iter().map(|pluck| pluck.pitch(0).get()).min();
        lowest.filter(|_| lead)
    };
    let all = growing.into_iter().filter(|(plucks, _)| !plucks.is_empty());
    found.extend(all.map(|(plucks, cost)| Way { plucks, cost, leads: leads(&plucks) }));
    found.sort_by_key(|way| way.cost);
    keep_the_best(found, if wanted.len() > 1 { 1 } else { SPARE })
}

/// Of one string in the same fingers there may be several places worth having, for what stands beside it.
const SPARE: usize = 3;

/// The first `most` ways of each set of fingers.
fn keep_the_best(mut ways: Vec<Way>, most: usize) -> Vec<Way> {
    let mut kept = [0; 8];
    ways.retain(|way| {
        let fingers = way.plucks.iter().fold(0, |bits, pluck| bits | 1_usize << pluck.finger as u8);
        let Some(count) = kept.get_mut(fingers) else { return false };
        *count += 1;
        *count <= most
    });
    ways
}
