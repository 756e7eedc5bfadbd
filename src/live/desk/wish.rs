use std::ops::RangeInclusive;

use super::super::{Command, Score};
use crate::arrange::{Plan, PlanError};
use crate::perform::StyleMismatch;
use crate::practice::{Chairs, Ramp};
use crate::time::Tempo;

/// What to play and how, as the player asks for it at the start.
#[derive(Clone, Debug)]
pub struct Wish {
    /// Key, tempo, speed, line-up and who sits out. Count-ins are [`Self::count_in`].
    pub plan: Plan,
    /// Which of the band's endless performances.
    pub seed: u64,
    /// Bars of clicks before the first bar.
    pub count_in: u32,
    /// Whose chair is open in which pass.
    pub chairs: Chairs,
    /// The bars to loop, by number.
    pub stretch: Option<RangeInclusive<usize>>,
    /// Rounds to play; `None` without end.
    pub rounds: Option<u32>,
    /// Speeds that climb from round to round.
    pub ramp: Option<Ramp>,
    /// Clicks before each chord change.
    pub cues: bool,
    /// True if an outside clock says when to start, and how fast.
    pub follows: bool,
    /// True if the song is a chord change that is drilled: its loop and its key stay as they are.
    pub drills: bool,
}

/// Why a song can't be played as wished.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WishError {
    /// The plan does not go with the song.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The style does not.
    #[error(transparent)]
    Style(#[from] StyleMismatch),
    /// There are no such bars.
    #[error("the song has bars 1 to {last}; write a loop within them")]
    NoSuchBars {
        /// The last bar's number.
        last: usize,
    },
}

/// What the playing thread begins with.
#[derive(Debug)]
pub struct Opening {
    /// What to play.
    pub score: Box<Score>,
    /// How fast.
    pub tempo: Tempo,
    /// What to send at once, in this order.
    pub commands: Vec<Command>,
}

/// What a player's action leads to.
#[derive(Debug, Default)]
pub struct Answer {
    /// For the playing thread, in this order.
    pub commands: Vec<Command>,
    /// For the screen: what was done, in a few words.
    pub message: Option<String>,
    /// What is not the playing thread's.
    pub ask: Option<Ask>,
}

/// What the desk leaves to others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Ask {
    Louder,
    Softer,
    GotIt,
    NextChange,
    Help,
    Quit,
}

impl Answer {
    pub(super) fn say(message: impl Into<String>) -> Self {
        Self { message: Some(message.into()), ..Self::default() }
    }

    pub(super) fn ask(ask: Ask) -> Self {
        Self { ask: Some(ask), ..Self::default() }
    }

    pub(super) fn with(mut self, command: Command) -> Self {
        self.commands.push(command);
        self
    }
}
