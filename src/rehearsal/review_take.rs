//! A take that was recorded by itself, reviewed: laid over the song, or over what was recorded beside it.

use std::num::NonZeroU32;

use thiserror::Error;

use super::{Disagrees, NoReview, NotPlayed, Rehearsal, Rendition};
use crate::perform::StyleMismatch;
use crate::review::{Anchor, NotReviewed, Review};
use crate::take::{Recorded, Take};
use crate::time::Nanos;

/// Why a take is not reviewed.
#[derive(Debug, Error)]
pub enum NotTold {
    /// The wishes do not go with the song.
    #[error(transparent)]
    Played(#[from] NotPlayed),
    /// The style does not.
    #[error(transparent)]
    Style(#[from] StyleMismatch),
    /// The wishes say otherwise than the recording.
    #[error(transparent)]
    Disagrees(#[from] Disagrees),
    /// The recording says too little.
    #[error(transparent)]
    Recorded(#[from] NoReview),
    /// The take does.
    #[error(transparent)]
    Take(#[from] NotReviewed),
}

impl NotTold {
    /// In words for a page, which has no options to write.
    pub fn by_hand(&self) -> String {
        match self {
            Self::Recorded(why) => why.by_hand(),
            Self::Take(why) => why.by_hand(),
            Self::Played(_) | Self::Style(_) | Self::Disagrees(_) => self.to_string(),
        }
    }
}

impl Rehearsal {
    /// The review of what was recorded beside the band, if the take is that and nothing else is wished of it; or of
    /// what is laid over the song first. `delay` is by how much the recording was delayed, where it begins with the
    /// clicks of the wishes' count-in; `None` for one that is laid where it fits best. `song` is how the player names
    /// the song's file, for the command that is advised.
    ///
    /// # Errors
    /// [`NotTold`].
    pub fn review_take(
        mut self,
        take: &Take,
        recorded: Option<&Recorded>,
        delay: Option<Nanos>,
        song: &str,
    ) -> Result<Review, NotTold> {
        let (asked_speed, asked_key) = (self.wishes().speed, self.wishes().key);
        let unsaid = delay.is_none() && self.wishes().stretch.is_none();
        if let Some(recorded) = recorded.filter(|_| unsaid) {
            self.agrees(recorded)?;
            return Ok(self.review_recorded(recorded, true, NonZeroU32::MIN, song)?);
        }
        let mut remarks = Vec::new();
        let mut band = self.beside(take)?;
        let how = self.recorded_how(&band, take)?;
        if let Some(how) = how {
            self.play_as(how);
            band = self.beside(take)?;
        }
        if let Some((round, bars)) = self.went_round(&band, take) {
            // The song as a whole may have fitted at another speed or in another key by chance.
            let mut as_asked = round;
            as_asked.set_speed(asked_speed);
            as_asked.set_key(asked_key);
            let plain = as_asked.beside(take)?;
            if let Some(how) = as_asked.recorded_how(&plain, take)? {
                as_asked.play_as(how);
                remarks.push(how.told());
            }
            self = as_asked;
            band = self.beside(take)?;
            remarks.push(format!("By its chords it went round {bars}: it is reviewed so."));
        } else if let Some(how) = how {
            remarks.push(how.told());
        }
        let anchor = delay.map_or(Anchor::Find, |delay| {
            let clicks = self.count_in_of(&band.arrangement);
            Anchor::Begins(Nanos(clicks.0.saturating_add(delay.0)))
        });
        let mut told = self.review(&band, take, anchor, song)?;
        told.remarks.splice(0..0, remarks);
        Ok(told)
    }

    /// What the band plays of what was asked for, as long as the take may be.
    fn beside(&self, take: &Take) -> Result<Rendition, NotTold> {
        let arrangement = match self.rounds_of(take.length)? {
            Some(rounds) => rounds,
            None => self.arrangement()?,
        };
        Ok(self.perform(arrangement)?)
    }
}
