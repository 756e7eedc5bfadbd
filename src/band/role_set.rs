use super::Role;

/// Some of the roles.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct RoleSet(u16);

// A bit each. There can't be more: each role has a MIDI channel of its own.
const _: () = assert!(Role::ALL.len() <= u16::BITS as usize);

impl RoleSet {
    /// No role.
    pub const EMPTY: Self = Self(0);

    /// This set and `role`.
    #[must_use]
    pub const fn with(self, role: Role) -> Self {
        Self(self.0 | 1 << role as u16)
    }

    /// All that are in either set.
    #[must_use]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// True if `role` is in the set.
    pub const fn contains(self, role: Role) -> bool {
        self.0 & (1 << role as u16) != 0
    }

    /// True if nobody is in the set.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The roles in the order of [`Role::ALL`].
    pub fn iter(self) -> impl Iterator<Item = Role> {
        Role::ALL.into_iter().filter(move |&role| self.contains(role))
    }
}

impl FromIterator<Role> for RoleSet {
    fn from_iter<I: IntoIterator<Item = Role>>(roles: I) -> Self {
        roles.into_iter().fold(Self::EMPTY, Self::with)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_set_holds_what_was_put_in() {
        let set: RoleSet = [Role::Guitar, Role::Bass].into_iter().collect();
        assert_eq!(set.iter().collect::<Vec<_>>(), [Role::Bass, Role::Guitar]);
        assert!(!set.contains(Role::Chop));
        let all: RoleSet = Role::ALL.into_iter().collect();
        assert_eq!(all.iter().collect::<Vec<_>>(), Role::ALL);
    }
}
