use super::super::{Command, Score};
use crate::arrange::PlanError;
use crate::perform::StyleMismatch;
use crate::practice::{Ramp, StretchError};
use crate::rehearsal::HasBanjo;
use crate::time::Tempo;

/// How a player wants to play what is rehearsed, apart from what the rehearsal itself says.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Wish {
    /// Speeds that climb from round to round.
    pub ramp: Option<Ramp>,
    /// Clicks before each chord change.
    pub change_clicks: bool,
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
    /// The song has nothing of the kind that is to be looped.
    #[error(transparent)]
    Stretch(#[from] StretchError),
    /// The chair that a banjo is to fill is not open.
    #[error(transparent)]
    Chair(#[from] HasBanjo),
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
