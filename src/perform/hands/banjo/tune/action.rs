//! What both hands do in a step of a break, and what goes well together.

use super::TuneNote;
use crate::perform::hands::SlurKind;
use crate::theory::fretboard::banjo::{Finger, Pluck, Plucks};
use crate::trellis::{Trellis, least_path};

/// What it costs to do one thing after another; common practice, no source, and the figures are ours.
mod weight {
    /// One string twice in a row.
    pub const SAME_STRING: u32 = 5;
    /// Thumb and index finger crossed.
    pub const CROSSED: u32 = 2;
    /// Two fingers to and fro, the thumb one of them, or not.
    pub const WITH_THUMB: u32 = 1;
    /// See [`WITH_THUMB`].
    pub const WITHOUT: u32 = 4;
    /// A string again with one pick between, where another could take turns with it.
    pub const REPEATS: u32 = 2;
    /// More than all else together.
    pub const IMPOSSIBLE: u32 = 1_000_000;
}

/// What may be done in a step.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Action {
    pub plucks: Plucks,
    /// What the left hand does in the middle of the step on the string that is picked.
    pub slur: Option<(SlurKind, u8)>,
    /// What it does with no finger of the right.
    pub alone: Option<TuneNote>,
    pub tune: bool,
    pub cost: u32,
}

impl Action {
    pub(super) fn picks(pluck: Pluck, cost: u32) -> Option<Self> {
        Some(Self { plucks: Plucks::NONE.with(pluck)?, cost, ..Self::default() })
    }

    fn finger(&self) -> Option<Finger> {
        let mut plucks = self.plucks.iter();
        plucks.next().filter(|_| plucks.next().is_none()).map(|pluck| pluck.finger)
    }

    pub(super) fn notes(&self) -> Vec<TuneNote> {
        let picked = self.plucks.iter().map(|pluck| TuneNote {
            string: pluck.string,
            fret: pluck.fret,
            finger: Some(pluck.finger),
            slur: self.slur,
        });
        picked.chain(self.alone).collect()
    }
}

/// The action of each step that goes best with those around it. Within `soon` steps no finger picks twice in a row.
pub(super) fn best(actions: &[Vec<Action>], soon: i64) -> Vec<Action> {
    let path = least_path(&Pairs { actions, soon }).map_or_else(Vec::new, |path| path.states);
    let chosen = actions.iter().zip(path);
    chosen
        .map(|(own, pair)| own.get(pair % own.len().max(1)).copied().unwrap_or_default())
        .collect()
}

/// The actions of two steps in a row: what goes badly together is paid at the last of three.
struct Pairs<'a> {
    actions: &'a [Vec<Action>],
    /// Within how many steps no finger picks twice in a row.
    soon: i64,
}

impl Pairs<'_> {
    fn row(&self, layer: usize) -> &[Action] {
        self.actions.get(layer).map_or(&[], Vec::as_slice)
    }

    /// How many actions the step before a layer has.
    fn before(&self, layer: usize) -> usize {
        layer.checked_sub(1).map_or(1, |before| self.row(before).len())
    }

    fn together(&self, [a, b, c]: [&Action; 3]) -> u32 {
        let again = |one: &Action| one.plucks.share_a_finger(&c.plucks);
        if again(b) || (self.soon > 1 && b.plucks.is_empty() && again(a)) {
            return weight::IMPOSSIBLE;
        }
        let mut cost = weight::SAME_STRING * u32::from(b.plucks.share_a_string(&c.plucks))
            + weight::CROSSED * u32::from(b.plucks.crosses(&c.plucks))
            + weight::REPEATS * u32::from(a.plucks.repeat(&c.plucks));
        if let (Some(first), Some(second), Some(third)) = (a.finger(), b.finger(), c.finger())
            && first == third
        {
            let with_thumb = [first, second].contains(&Finger::Thumb);
            cost += if with_thumb { weight::WITH_THUMB } else { weight::WITHOUT };
        }
        cost
    }
}

impl Trellis for Pairs<'_> {
    type Cost = u32;

    fn layers(&self) -> usize {
        self.actions.len()
    }

    fn states(&self, layer: usize) -> usize {
        self.before(layer) * self.row(layer).len()
    }

    fn own(&self, layer: usize, state: usize) -> u32 {
        let row = self.row(layer);
        row.get(state % row.len().max(1)).map_or(0, |action| action.cost)
    }

    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[u32],
    ) -> impl Iterator<Item = (usize, u32)> {
        const SILENCE: &[Action] =
            &[Action { plucks: Plucks::NONE, slur: None, alone: None, tune: false, cost: 0 }];
        let row = self.row(layer);
        let width = row.len().max(1);
        let middle = layer.checked_sub(1).map_or(SILENCE, |before| self.row(before));
        let first = layer.checked_sub(2).map_or(SILENCE, |before| self.row(before));
        let pair = middle.get(state / width).zip(row.get(state % width));
        let from = state / width;
        first.iter().enumerate().filter_map(move |(number, a)| {
            let (b, c) = pair?;
            let index = number * middle.len() + from;
            let sum = before.get(index)?;
            Some((index, self.together([a, b, c]).saturating_add(*sum)))
        })
    }
}
