use crate::chart::RoleSet;

/// What comes after the next bar line, as things stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Coming {
    /// The score's slot.
    pub slot: usize,
    /// The bar; `None` where all is over.
    pub bar: Option<usize>,
    /// Bars of clicks before it.
    pub count_in: u32,
    /// Who will be out by the rule of chairs.
    pub out: RoleSet,
    /// True if the music does not go on there as written, so that what sounds ends at the line.
    pub breaks: bool,
    /// True if a round of the loop is over there.
    pub wraps: bool,
    /// True if a pass begins.
    pub begins: bool,
    /// True before the form: the first pass is yet to begin.
    pub kickoff: bool,
}

impl Coming {
    /// Nothing.
    pub const NONE: Self = Self {
        slot: 0,
        bar: None,
        count_in: 0,
        out: RoleSet::EMPTY,
        breaks: false,
        wraps: false,
        begins: false,
        kickoff: false,
    };

    /// True if the same bar comes, after as many clicks.
    pub fn is_same_bar(&self, other: &Self) -> bool {
        let place = |it: &Self| (it.slot, it.bar, it.count_in);
        place(self) == place(other)
    }
}
