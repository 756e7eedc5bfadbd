use std::sync::Arc;

use super::super::{Command, Entry, Score};
use super::{Answer, Desk, Take, WishError};
use crate::backup::Level;
use crate::chart::RoleSet;
use crate::coverage::Coverage;
use crate::tablature::bars_as_text;

/// A loop is written out until it has about so many bars, so that what is left to chance differs
/// from round to round.
const WRITTEN_OUT: usize = 64;

impl Desk {
    /// Adds a new score from the next bar line on. False, with the reason as message, if it can't be.
    pub(super) fn add_score(&mut self, answer: &mut Answer) -> bool {
        match self.play(Entry::BarLine, None, false) {
            Ok(commands) => {
                answer.commands.extend(commands);
                true
            }
            Err(why) => {
                answer.message = Some(why.to_string());
                false
            }
        }
    }

    pub(super) fn play(
        &mut self,
        at: Entry,
        from: Option<usize>,
        with_tempo: bool,
    ) -> Result<Vec<Command>, WishError> {
        self.arrange()?;
        let score = self.score()?;
        let tempo = with_tempo.then(|| self.tempo());
        Ok(vec![Command::Play { score, at, from, tempo }])
    }

    pub(super) fn arrange(&mut self) -> Result<(), WishError> {
        self.rehearsal.set_full_tempo(self.base);
        self.rehearsal.set_speed(self.speed);
        self.whole = self.rehearsal.whole()?;
        Ok(())
    }

    /// What a score that was sent covers while some roles are silent. Reckoned when it is first asked for;
    /// asked again it is only looked up.
    pub fn coverage(&mut self, score: u32, silent: RoleSet) -> Option<Arc<Coverage>> {
        let known = |(id, out, _): &&(u32, RoleSet, _)| *id == score && *out == silent;
        if let Some((_, _, covered)) = self.covered.iter().find(known) {
            return Some(Arc::clone(covered));
        }
        let take = self.takes.iter().find(|take| take.id == score)?;
        let covered = Arc::new(take.played.coverage(silent));
        // The pass that is heard and the one after it, before and after a score is heard.
        const KEPT: usize = 4;
        if self.covered.len() == KEPT {
            self.covered.remove(0);
        }
        self.covered.push((score, silent, Arc::clone(&covered)));
        Some(covered)
    }

    /// The tab of each bar of a score that was sent, at the level that is shown, while some roles are silent:
    /// what the banjo plays to what those leave open. Made when it is first asked for; `None` where no tab is
    /// shown.
    pub fn tab(&mut self, score: u32, silent: RoleSet) -> Option<Arc<Vec<String>>> {
        let level = self.shown.tab?;
        let known = |(id, out, of, _): &&(u32, RoleSet, Level, _)| {
            *id == score && *out == silent && *of == level
        };
        if let Some((.., tab)) = self.tabs.iter().find(known) {
            return Some(Arc::clone(tab));
        }
        let take = self.takes.iter().find(|take| take.id == score)?;
        let tab = self.rehearsal.tab_while(&take.played, silent, level);
        let tab = Arc::new(bars_as_text(&tab));
        // As for what is covered.
        const KEPT: usize = 4;
        if self.tabs.len() == KEPT {
            self.tabs.remove(0);
        }
        self.tabs.push((score, silent, level, Arc::clone(&tab)));
        Some(tab)
    }

    /// The whole song or the loop, performed.
    pub(super) fn score(&mut self) -> Result<Box<Score>, WishError> {
        let excerpt = self.stretch.clone().and_then(|stretch| {
            let bars = stretch.end().saturating_sub(*stretch.start()) + 1;
            self.whole.excerpt(stretch, (WRITTEN_OUT / bars).clamp(1, 16))
        });
        let arrangement = excerpt.unwrap_or_else(|| self.whole.clone());
        let played = self.rehearsal.perform(arrangement)?;
        // What the band leaves open is told without the banjo that fills it: it plays what the player would.
        let mut heard = played.clone();
        self.rehearsal.fill_chair(&mut heard, self.muted)?;
        let id = self.next_id;
        self.next_id = self.next_id.wrapping_add(1);
        self.awaited = Some(id);
        let score = Box::new(Score::new(id, &heard.arrangement, &heard.performance));
        // As many as a hasty player may have sent within the tenth of a second that is queued.
        const KEPT: usize = 16;
        if self.takes.len() == KEPT {
            // However many keys are pressed within a bar, what is heard stays known.
            let oldest = self.takes.iter().position(|take| take.id != self.heard).unwrap_or(0);
            self.takes.remove(oldest);
        }
        let whole = Arc::new(self.whole.clone());
        self.takes.push(Take { id, played, whole });
        Ok(score)
    }
}
