//! What was asked for and waits for a bar line.

use crate::live::Entry;
use crate::time::Tempo;

/// A score that has been handed over, and its turn has not come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::live) struct Swap {
    pub slot: usize,
    pub at: Entry,
    pub from: Option<usize>,
    pub tempo: Option<Tempo>,
}

/// See the module.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Pending {
    swap: Option<Swap>,
    /// The number of the bar to go on with.
    jump: Option<usize>,
    /// Bars of clicks before it.
    pub count_in: u32,
    /// After so many more rounds, the present one included, all is over.
    pub rounds_left: Option<u32>,
}

impl Pending {
    /// Another score is to be played. A bar that it comes with is meant later than one asked for before.
    pub const fn hand_over(&mut self, swap: Swap) {
        if swap.from.is_some() {
            self.jump = None;
        }
        self.swap = Some(swap);
    }

    /// True if the score in that slot waits.
    pub fn needs(&self, slot: usize) -> bool {
        self.swap.is_some_and(|swap| swap.slot == slot)
    }

    /// The score handed over, if its turn comes at a line: `loops` if what is played now comes round, `wraps` if a
    /// round is over there.
    pub fn swap_at_line(&self, loops: bool, wraps: bool) -> Option<Swap> {
        self.swap.filter(|swap| swap.at == Entry::BarLine || wraps || !loops)
    }

    /// Its turn has come.
    pub const fn swapped(&mut self) {
        self.swap = None;
    }

    /// A bar is to be gone on with, whatever the score that waits came with.
    pub const fn jump_to(&mut self, number: usize) {
        self.jump = Some(number);
        if let Some(swap) = &mut self.swap {
            swap.from = None;
        }
    }

    /// The number of the bar to go on with.
    pub const fn jump(&self) -> Option<usize> {
        self.jump
    }

    /// The same, which is done with.
    pub const fn take_jump(&mut self) -> Option<usize> {
        self.jump.take()
    }

    /// True if all is over where a round is.
    pub fn is_last_round(&self) -> bool {
        self.rounds_left.is_some_and(|left| left <= 1)
    }

    /// A round is over.
    pub fn wrap(&mut self) {
        self.rounds_left = self.rounds_left.map(|left| left.saturating_sub(1));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn swap(at: Entry, from: Option<usize>) -> Swap {
        Swap { slot: 2, at, from, tempo: None }
    }

    #[test]
    fn what_is_asked_for_last_is_meant() {
        let mut pending = Pending::default();
        pending.jump_to(7);
        pending.hand_over(swap(Entry::BarLine, None));
        assert_eq!(pending.jump(), Some(7), "in the other score");
        pending.hand_over(swap(Entry::BarLine, Some(3)));
        assert_eq!(pending.jump(), None);
        pending.jump_to(9);
        assert_eq!(pending.swap_at_line(false, false).unwrap().from, None);
        assert_eq!((pending.take_jump(), pending.jump()), (Some(9), None));
    }

    #[test]
    fn a_score_waits_for_the_round_where_there_is_one() {
        let mut pending = Pending::default();
        pending.hand_over(swap(Entry::Round, None));
        assert!(pending.needs(2) && !pending.needs(1));
        let comes = |loops, wraps| pending.swap_at_line(loops, wraps).is_some();
        assert_eq!(
            [comes(true, false), comes(true, true), comes(false, false)],
            [false, true, true]
        );
        pending.swapped();
        assert!(!pending.needs(2));
    }

    #[test]
    fn rounds_are_counted_down() {
        let mut pending = Pending { rounds_left: Some(2), ..Pending::default() };
        assert!(!pending.is_last_round());
        pending.wrap();
        assert!(pending.is_last_round());
        assert!(!Pending::default().is_last_round(), "never");
    }
}
