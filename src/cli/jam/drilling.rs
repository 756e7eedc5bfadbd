use crate::arrange::Arrangement;
use crate::chart::Song;
use crate::cli::files::MarksFile;
use crate::practice::{Course, Exercise, Marks, Ramp};
use crate::rehearsal::Rehearsal;

/// All that practising a song's changes needs.
#[derive(Debug)]
pub(in crate::cli) struct DrillPlan {
    /// Of the song.
    pub rehearsal: Rehearsal,
    /// The whole song as it would be played: the key of the changes, its capo and its line-up.
    pub played: Arrangement,
    /// Bars of each chord.
    pub bars: u32,
    /// What is practised when. With `--change`, that alone.
    pub course: Course,
    /// How far the player has come.
    pub marks: Marks,
    /// Where that is kept.
    pub file: MarksFile,
}

/// A drill under way: one change after the other, and what is kept of them.
pub(in crate::cli) struct Drilling {
    plan: DrillPlan,
    now: Exercise,
    names: (String, String),
}

impl Drilling {
    /// Begins with the change whose turn it is; `None` if there is none.
    pub(in crate::cli) fn new(plan: DrillPlan) -> Option<Self> {
        let now = plan.course.exercise(&plan.marks)?;
        Some(Self { names: names(&now), plan, now })
    }

    /// The change as a song of its own.
    pub(in crate::cli) fn rehearsal(&self) -> Rehearsal {
        let DrillPlan { rehearsal, played, bars, .. } = &self.plan;
        rehearsal.drill(played, &self.now.change, *bars)
    }

    /// The song of that.
    pub(super) fn song(&self) -> Song {
        self.rehearsal().song().clone()
    }

    /// Its speeds.
    pub(in crate::cli) const fn ramp(&self) -> Ramp {
        self.now.ramp
    }

    /// What is being drilled, in words.
    pub(super) fn words(&self) -> String {
        let review = if self.now.review { ", learnt before" } else { "" };
        format!("now {}, from {:.0} %{review}", self.now.change, self.now.ramp.from)
    }

    /// The two chords.
    pub(super) fn change(&self) -> (&str, &str) {
        (&self.names.0, &self.names.1)
    }

    /// Its place among the song's changes, from 1, and how many there are.
    pub(super) fn number(&self) -> (usize, usize) {
        self.plan.course.place()
    }

    /// The best speed at which it was called learnt.
    pub(super) fn mark(&self) -> Option<f64> {
        self.plan.marks.of(&self.now.change).learnt
    }

    /// Keeps how far the player came; what they should know, if it can't be kept.
    pub(super) fn keep(&mut self, speed: f64, learnt: bool) -> Option<String> {
        self.plan.file.record(&mut self.plan.marks, &self.now.change, speed, learnt)
    }

    /// Goes on to the next change.
    pub(super) fn go_on(&mut self) {
        self.plan.course.go_on(&self.plan.marks);
        if let Some(next) = self.plan.course.exercise(&self.plan.marks) {
            self.now = next;
            self.names = names(&next);
        }
    }
}

fn names(lesson: &Exercise) -> (String, String) {
    (lesson.change.from.to_string(), lesson.change.to.to_string())
}
