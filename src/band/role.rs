use std::fmt;

use super::Role;

impl Role {
    /// The word that songs, options, styles, pedals and track names use.
    pub const fn as_str(self) -> &'static str {
        self.row().word
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.as_str() == word)
    }

    /// The words of all roles, in their order.
    pub fn words() -> Vec<&'static str> {
        Self::ALL.iter().map(|role| role.as_str()).collect()
    }

    /// The role's own MIDI channel, from 0. Never 9, which General MIDI keeps for percussion.
    pub const fn channel(self) -> u8 {
        self.row().channel
    }

    /// What tells the role's random numbers from another's. No other role that comes or goes may change it.
    pub const fn stream(self) -> u64 {
        self.channel() as u64
    }

    /// The role whose bars may hold runs that another makes room for, if there is one.
    pub fn with_right_of_way() -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.row().playing.right == super::Right::OfWay)
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}
