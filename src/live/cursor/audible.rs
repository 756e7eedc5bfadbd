//! Who is heard.

use crate::chart::{Role, RoleSet};
use crate::practice::Chairs;

/// See the module.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Audible {
    /// Silent by the player's hand.
    pub muted: RoleSet,
    /// Out in this pass by the rule of chairs.
    pub out: RoleSet,
    /// That rule.
    pub chairs: Chairs,
    /// True if there are clicks before chord changes.
    pub change_clicks: bool,
}

impl Audible {
    /// True for a role of whom nothing is heard where `out` are out. Clicks, which no role plays, are heard.
    pub fn is_silent(&self, role: Option<Role>, out: RoleSet) -> bool {
        role.is_some_and(|role| self.muted.contains(role) || out.contains(role))
    }

    /// Who will be out in a bar where `roles` play, of the present pass or of one that begins there.
    pub fn out_in(&self, begins: Option<u32>, roles: RoleSet) -> RoleSet {
        begins.map_or(self.out, |pass| self.chairs.open_in(pass, roles))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hand_and_rule_both_silence() {
        let only = |role| [role].into_iter().collect::<RoleSet>();
        let audible =
            Audible { muted: only(Role::Bass), chairs: Chairs::Turns, ..Audible::default() };
        let silent = |role| audible.is_silent(role, only(Role::Chop));
        assert!(silent(Some(Role::Bass)) && silent(Some(Role::Chop)));
        assert!(!silent(Some(Role::Guitar)) && !silent(None));
        let both = [Role::Bass, Role::Chop].into_iter().collect();
        assert_eq!(audible.out_in(None, both), RoleSet::EMPTY, "the pass goes on");
        assert_eq!(audible.out_in(Some(1), both), only(Role::Chop));
    }
}
