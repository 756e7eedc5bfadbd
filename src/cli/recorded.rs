//! The review of what a player played beside the band.

use std::num::NonZeroU32;
use std::path::Path;

use super::args::{Options, Play};
use super::failure::tell;
use super::output::to_stdout;
use super::review_command::ready;
use super::review_text::text;
use crate::arrange::{Arrangement, Plan, PlanError, arrange};
use crate::chart::{Role, RoleSet, Song};
use crate::coverage::coverage;
use crate::live::Desk;
use crate::perform::perform;
use crate::practice::SitOutRule;
use crate::review::{Anchor, Review, review};
use crate::style::Style;
use crate::take::{Recorded, Run};
use crate::time::Tempo;

/// Tempos that are as near as this, in percent of one another, are meant to be one.
const NEAR: f64 = 1.0;

/// Tells a player how it went, once it is over.
pub(super) fn tell_how_it_went(play: &Play, desk: &Desk, recorded: &Recorded) {
    let (path, options) = (play.song.as_path(), &play.options);
    let beside = Beside { path, song: desk.song(), style: desk.style(), options };
    match beside.review(recorded, &[], desk.times()) {
        // Somebody whose terminal has gone has the file.
        Ok(review) => _ = to_stdout(text(&review).as_bytes()),
        Err(why) => tell(format!("no review: {why}")),
    }
}

/// The song that was played beside.
pub(super) struct Beside<'a> {
    /// Its file.
    pub path: &'a Path,
    /// The song.
    pub song: &'a Song,
    /// The style that it was played in.
    pub style: &'a Style,
    /// What was asked for.
    pub options: &'a Options,
}

impl Beside<'_> {
    /// A recording says itself in what key and how fast it was played.
    ///
    /// # Errors
    /// The options say otherwise, in words.
    pub(super) fn agrees(&self, recorded: &Recorded) -> Result<(), String> {
        let Some(run) = recorded.best_run() else { return Ok(()) };
        if let Some(key) = self.options.key.filter(|key| *key != run.key) {
            return Err(format!(
                "--key {key}: the take was played in {}; leave --key out",
                run.key
            ));
        }
        let (asked, was) = (self.options.speed, self.speed(&run));
        if asked != 100.0 && (asked / was - 1.0).abs() * 100.0 > NEAR {
            return Err(format!(
                "--speed {asked}: the take was played at {was:.0} percent; leave --speed out"
            ));
        }
        Ok(())
    }

    /// The review of the recording's best run, whose form was played so many times, and with these chairs left
    /// open beside those that it tells of.
    ///
    /// # Errors
    /// Why there is none, in words.
    pub(super) fn review(
        &self,
        recorded: &Recorded,
        sit_out: &[SitOutRule],
        times: NonZeroU32,
    ) -> Result<Review, String> {
        let run = recorded
            .best_run()
            .ok_or("too short to review: no bar of the song was played to its end")?;
        if run.strokes() == 0 {
            return Err("nothing was struck while the song was playing".to_owned());
        }
        let (mut plan, _) = self.options.plan(0).map_err(|why| why.to_string())?;
        plan.sit_out.retain(|out| sit_out.contains(&SitOutRule::Role(out.clone())));
        plan.tag = self.style.tag;
        plan.key = Some(run.key);
        plan.speed = self.speed(&run);
        plan.times = times;
        let (beside, title) = (&recorded.title, &self.song.title);
        let other = || {
            format!(
                "{title} has no such bars any more: the take was played beside the song as it was before; \
                 with --count-in it is laid over the song as it is"
            )
        };
        if beside != title {
            return Err(format!(
                "it was played beside {beside}, and this is {title}; name its song"
            ));
        }
        let whole = self.whole(&run, plan).map_err(|why| why.to_string())?;
        let song = run.heard_of(&whole).ok_or_else(other)?;
        let played =
            perform(&song, self.style, self.options.seed).map_err(|why| why.to_string())?;
        let laid = run.laid_over(&song, &played).ok_or_else(other)?;
        let open = coverage(&song, &played, RoleSet::EMPTY);
        let anchor = Anchor::Begins(laid.begins);
        let mut told =
            review(&song, &played, &open, &laid.take, anchor).map_err(|why| why.to_string())?;
        told.advice.command = ready(self.path, &self.again(&run, &whole), &told.advice);
        Ok(told)
    }

    /// The song at the run's tempo, with its form as often as there are bars for.
    fn whole(&self, run: &Run, mut plan: Plan) -> Result<Arrangement, PlanError> {
        let whole = arrange(self.song, &plan)?;
        let bars = whole.bars.iter().filter(|bar| whole.is_of_form(bar)).count();
        let last = whole.bars.last().map_or(0, |bar| bar.number);
        let played = run.highest();
        if played <= last || bars == 0 {
            return Ok(whole);
        }
        let times = played.div_ceil(bars / plan.times.get() as usize);
        plan.times = u32::try_from(times).ok().and_then(NonZeroU32::new).unwrap_or(plan.times);
        arrange(self.song, &plan)
    }

    /// The practice speed of a run, in percent.
    fn speed(&self, run: &Run) -> f64 {
        let beats = self.options.tempo.unwrap_or(self.song.tempo);
        let full = Tempo::new(beats, self.song.meter, 100.0);
        let speed = 100.0 * f64::from(full.micros_per_quarter())
            / f64::from(run.tempo.micros_per_quarter());
        // The tempo is held in whole microseconds, and 100 is a speed that changes nothing.
        if (speed - speed.round()).abs() < 0.001 { speed.round() } else { speed }
    }

    /// What to ask for to have it so again: the key it was played in, and those left out who were.
    fn again(&self, run: &Run, whole: &Arrangement) -> Options {
        let mut options = self.options.clone();
        if run.key != self.song.key {
            options.key = Some(run.key);
        }
        let plays = whole.playing();
        let out = |role: &Role| plays.contains(*role) && run.is_without(*role);
        if options.sit_out.is_empty() {
            let rules = whole.band.iter().filter(out).map(|role| SitOutRule::parse(role.as_str()));
            options.sit_out = rules.filter_map(Result::ok).collect();
        }
        options
    }
}
