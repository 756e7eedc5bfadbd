use super::{Level, LickBook};

/// What a player brings along.
#[derive(Clone, Copy, Debug)]
pub struct Player<'a> {
    /// How much of the craft is shown.
    pub level: Level,
    /// The licks that the player knows.
    pub licks: &'a LickBook,
    /// Which of the endless parts: the same number, the same picks.
    pub seed: u64,
}

impl Player<'static> {
    /// A player who knows the licks that come with the program.
    pub fn at(level: Level, seed: u64) -> Self {
        Self { level, licks: LickBook::shipped(), seed }
    }
}
