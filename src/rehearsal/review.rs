//! What a player played beside the band, reviewed.

use std::num::NonZeroU32;

use thiserror::Error;

use super::again::command_again;
use super::{NotPlayed, Rehearsal, Rendition, Wishes};
use crate::arrange::{Arrangement, PlanError};
use crate::chart::{Role, RoleSet};
use crate::perform::StyleMismatch;
use crate::practice::SitOutRule;
use crate::review::{Anchor, NotReviewed, RecordedHow, Review, recorded_how, review, time_lost};
use crate::take::{Recorded, Run, Take};
use crate::theory::Key;
use crate::time::{Nanos, Tempo};

/// Tempos that are as near as this, in percent of one another, are meant to be one.
const NEAR: f64 = 1.0;

/// The wishes say otherwise than a recording, which knows in what key and how fast it was played.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum Disagrees {
    /// It was played in another key.
    #[error("--key {asked}: the take was played in {played}; leave --key out")]
    Key {
        /// What is asked for.
        asked: Key,
        /// What was played.
        played: Key,
    },
    /// It was played at another speed.
    #[error("--speed {asked}: the take was played at {played:.0} percent; leave --speed out")]
    Speed {
        /// What is asked for, in percent.
        asked: f64,
        /// What was played.
        played: f64,
    },
}

/// Why there is no review.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoReview {
    /// No bar was played to its end.
    #[error("too short to review: no bar of the song was played to its end")]
    TooShort,
    /// Nothing was struck.
    #[error("nothing was struck while the song was playing")]
    Nothing,
    /// It is a recording beside another song.
    #[error("it was played beside {beside}, and this is {title}; name its song")]
    OtherSong {
        /// The title of the song that it was played beside.
        beside: String,
        /// The title of this one.
        title: String,
    },
    /// The song was changed since.
    #[error(
        "{title} has no such bars any more: the take was played beside the song as it was before; \
         with --count-in it is laid over the song as it is"
    )]
    OtherBars {
        /// The song's title.
        title: String,
    },
    /// The wishes do not go with the song.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The style does not.
    #[error(transparent)]
    Style(#[from] StyleMismatch),
    /// The take says too little.
    #[error(transparent)]
    Take(#[from] NotReviewed),
}

impl NoReview {
    /// In words for a page, which has no options to write.
    pub fn by_hand(&self) -> String {
        match self {
            Self::Take(why) => why.by_hand(),
            _ => self.to_string(),
        }
    }
}

impl Rehearsal {
    /// The review of a take over what the band played. `song` is how the player names the song's file, for the
    /// command that it advises.
    ///
    /// # Errors
    /// [`NotReviewed`] if the take says too little.
    pub fn review(
        &self,
        band: &Rendition,
        take: &Take,
        anchor: Anchor,
        song: &str,
    ) -> Result<Review, NotReviewed> {
        let mut told = told(band, take, anchor)?;
        told.advice.command = command_again(song, self.wishes(), &told.advice);
        Ok(told)
    }

    /// At which speed and in which key a take was played, where that is not as it is asked for.
    ///
    /// # Errors
    /// [`NotReviewed::TwoWays`].
    pub fn recorded_how(
        &self,
        band: &Rendition,
        take: &Take,
    ) -> Result<Option<RecordedHow>, NotReviewed> {
        let open = band.coverage(RoleSet::EMPTY);
        recorded_how(&band.arrangement, &band.performance, &open, take)
    }

    /// Asks for the speed and the key in which something was recorded.
    pub fn play_as(&mut self, how: RecordedHow) {
        self.set_speed(how.speed);
        if how.moved != 0 {
            self.set_key(Some(how.key));
        }
    }

    /// What goes round, as often as a take of this length may have gone round it. `None` if nothing is to.
    ///
    /// # Errors
    /// [`NotPlayed`] where the wishes do not go with the song.
    pub fn rounds_of(&self, length: Nanos) -> Result<Option<Arrangement>, NotPlayed> {
        let Some(bars) = self.bars(&self.whole()?)? else { return Ok(None) };
        let once = self.rounds(bars.clone(), 1)?;
        let round = once.tempo.nanos(once.end - once.start).0.max(1);
        // One more for whoever drags, and one that may have begun.
        let rounds = usize::try_from(length.0 / round).unwrap_or(0).saturating_add(2);
        self.rounds(bars, rounds).map(Some)
    }

    /// A recording says itself in what key and how fast it was played.
    ///
    /// # Errors
    /// [`Disagrees`].
    pub fn agrees(&self, recorded: &Recorded) -> Result<(), Disagrees> {
        let Some(run) = recorded.best_run() else { return Ok(()) };
        if let Some(asked) = self.wishes().key.filter(|key| *key != run.key) {
            return Err(Disagrees::Key { asked, played: run.key });
        }
        let (asked, played) = (self.wishes().speed, self.speed_of(&run));
        if asked != 100.0 && (asked / played - 1.0).abs() * 100.0 > NEAR {
            return Err(Disagrees::Speed { asked, played });
        }
        Ok(())
    }

    /// The review of a recording's best run, the song's form played so many times. `chairs` is true if those of
    /// the wishes are left open beside those that the recording tells of; by turns and by surprise, it tells of
    /// all.
    ///
    /// # Errors
    /// [`NoReview`].
    pub fn review_recorded(
        &self,
        recorded: &Recorded,
        chairs: bool,
        times: NonZeroU32,
        song: &str,
    ) -> Result<Review, NoReview> {
        let run = recorded.best_run().ok_or(NoReview::TooShort)?;
        if run.strokes() == 0 {
            return Err(NoReview::Nothing);
        }
        let (beside, title) = (&recorded.title, &self.song().title);
        if beside != title {
            return Err(NoReview::OtherSong { beside: beside.clone(), title: title.clone() });
        }
        let other = || NoReview::OtherBars { title: title.clone() };
        let mut as_played = self.clone();
        as_played.set_key(Some(run.key));
        as_played.set_speed(self.speed_of(&run));
        as_played.set_times(times);
        if !chairs {
            as_played.call_in_all();
        }
        let whole = as_played.as_long_as(&run)?;
        let song_of_run = run.heard_of(&whole).ok_or_else(other)?;
        let band = self.perform(song_of_run)?;
        let laid = run.laid_over(&band.arrangement, &band.performance).ok_or_else(other)?;
        let mut told = told(&band, &laid.take, Anchor::Begins(laid.begins))?;
        told.advice.command = command_again(song, &self.again(&run, &whole), &told.advice);
        told.remarks.extend(time_lost(run.lost_time()));
        Ok(told)
    }

    /// The whole song, with its form as often as a run has bars for.
    fn as_long_as(&mut self, run: &Run) -> Result<Arrangement, PlanError> {
        let whole = self.whole()?;
        let bars = whole.bars.iter().filter(|bar| whole.is_of_form(bar)).count();
        let last = whole.bars.last().map_or(0, |bar| bar.number);
        let played = run.highest();
        if played <= last || bars == 0 {
            return Ok(whole);
        }
        let before = self.wishes().times;
        let times = played.div_ceil(bars / before.get() as usize);
        self.set_times(u32::try_from(times).ok().and_then(NonZeroU32::new).unwrap_or(before));
        self.whole()
    }

    /// The practice speed of a run, in percent.
    fn speed_of(&self, run: &Run) -> f64 {
        let full = Tempo::new(self.full_tempo(), self.song().meter, 100.0);
        let speed = 100.0 * f64::from(full.micros_per_quarter())
            / f64::from(run.tempo.micros_per_quarter());
        // The tempo is held in whole microseconds, and 100 is a speed that changes nothing.
        if (speed - speed.round()).abs() < 0.001 { speed.round() } else { speed }
    }

    /// What to ask for to have it so again: the key it was played in, and those left out who were.
    fn again(&self, run: &Run, whole: &Arrangement) -> Wishes {
        let mut wishes = self.wishes().clone();
        if run.key != self.song().key {
            wishes.key = Some(run.key);
        }
        let plays = whole.playing();
        let out = |role: &Role| plays.contains(*role) && run.is_without(*role);
        if wishes.sit_out.is_empty() {
            let rules = whole.band.iter().filter(out).map(|role| SitOutRule::parse(role.as_str()));
            wishes.sit_out = rules.filter_map(Result::ok).collect();
        }
        wishes
    }
}

fn told(band: &Rendition, take: &Take, anchor: Anchor) -> Result<Review, NotReviewed> {
    let open = band.coverage(RoleSet::EMPTY);
    review(&band.arrangement, &band.performance, &open, take, anchor)
}
