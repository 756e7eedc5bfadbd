use super::drill::DrillPlan;
use crate::chart::Song;
use crate::practice::{Lesson, Ramp, drill};

/// A drill under way: one change after the other, and what is kept of them.
pub(super) struct Lessons {
    plan: DrillPlan,
    now: Lesson,
    names: (String, String),
}

impl Lessons {
    /// Begins with the change whose turn it is; `None` if there is none.
    pub(super) fn new(plan: DrillPlan) -> Option<Self> {
        let now = plan.course.lesson(&plan.marks)?;
        Some(Self { names: names(&now), plan, now })
    }

    /// The change as a song of its own.
    pub(super) fn song(&self) -> Song {
        drill(&self.plan.song, &self.plan.played, &self.now.change, self.plan.bars)
    }

    /// Its speeds.
    pub(super) const fn ramp(&self) -> Ramp {
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
        if let Some(next) = self.plan.course.lesson(&self.plan.marks) {
            self.now = next;
            self.names = names(&next);
        }
    }
}

fn names(lesson: &Lesson) -> (String, String) {
    (lesson.change.from.to_string(), lesson.change.to.to_string())
}
