use std::fmt;

use serde::{Deserialize, Serialize};

/// A rhythm job in the band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Upright bass: the downbeats.
    Bass,
    /// Mandolin chop: the backbeats.
    Chop,
    /// Guitar: bass notes and strums.
    Guitar,
    /// Five-string banjo: rolls, and vamps up the neck.
    Banjo,
    /// Fiddle: long tones and soft chops.
    Fiddle,
    /// Whoever leads a pass: a simple break to back up, or the song's own melody.
    Lead,
}

impl Role {
    /// Every role, in the order of tracks and channels.
    pub const ALL: [Self; 6] =
        [Self::Bass, Self::Chop, Self::Guitar, Self::Banjo, Self::Fiddle, Self::Lead];

    /// The line-up of a song that names none. The other chairs stay free for the player.
    pub const BAND: [Self; 3] = [Self::Bass, Self::Chop, Self::Guitar];

    /// The word that songs, options and track names use.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Bass => "bass",
            Self::Chop => "chop",
            Self::Guitar => "guitar",
            Self::Banjo => "banjo",
            Self::Fiddle => "fiddle",
            Self::Lead => "lead",
        }
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.as_str() == word)
    }

    /// The role's own MIDI channel, from 0. Never 9, which General MIDI keeps for percussion.
    pub const fn channel(self) -> u8 {
        self as u8
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// Some of the roles.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct RoleSet(u8);

impl RoleSet {
    /// No role.
    pub const EMPTY: Self = Self(0);

    /// This set and `role`.
    #[must_use]
    pub const fn with(self, role: Role) -> Self {
        Self(self.0 | 1 << role as u8)
    }

    /// All that are in either set.
    #[must_use]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// True if `role` is in the set.
    pub const fn contains(self, role: Role) -> bool {
        self.0 & (1 << role as u8) != 0
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

/// Who is featured in a pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Lead {
    Voice,
    Fiddle,
    Mandolin,
    Guitar,
    Banjo,
    Bass,
    Resonator,
}

impl Lead {
    /// Every lead, in the order the messages list them.
    pub const ALL: [Self; 7] = [
        Self::Voice,
        Self::Fiddle,
        Self::Mandolin,
        Self::Guitar,
        Self::Banjo,
        Self::Bass,
        Self::Resonator,
    ];

    /// The word that songs use.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Voice => "voice",
            Self::Fiddle => "fiddle",
            Self::Mandolin => "mandolin",
            Self::Guitar => "guitar",
            Self::Banjo => "banjo",
            Self::Bass => "bass",
            Self::Resonator => "resonator",
        }
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|lead| lead.as_str() == word)
    }

    /// The rhythm role that falls out while this lead is featured: the same hands play both.
    pub const fn drops(self) -> Option<Role> {
        match self {
            Self::Guitar => Some(Role::Guitar),
            Self::Mandolin => Some(Role::Chop),
            Self::Bass => Some(Role::Bass),
            Self::Banjo => Some(Role::Banjo),
            Self::Fiddle => Some(Role::Fiddle),
            Self::Voice | Self::Resonator => None,
        }
    }
}

impl fmt::Display for Lead {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_go_both_ways() {
        assert!(Role::ALL.into_iter().all(|role| Role::parse(role.as_str()) == Some(role)));
        assert!(Lead::ALL.into_iter().all(|lead| Lead::parse(lead.as_str()) == Some(lead)));
    }

    #[test]
    fn a_set_holds_what_was_put_in() {
        let set: RoleSet = [Role::Guitar, Role::Bass].into_iter().collect();
        assert_eq!(set.iter().collect::<Vec<_>>(), [Role::Bass, Role::Guitar]);
        assert!(!set.contains(Role::Chop));
    }
}
