use std::num::NonZeroU32;
use std::ops::Range;

use crate::backup::Level;
use crate::chart::RoleSet;
use crate::practice::{ChangeChoice, SitOutRule, Stretch};
use crate::text::Placed;
use crate::theory::Key;

/// What a teacher gives a student to practise.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// What it is called.
    pub title: String,
    /// A word from the teacher, of one paragraph or more.
    pub notes: Option<String>,
    /// What is practised, in order.
    pub items: Vec<LessonItem>,
}

/// A song, or a part of one, to be practised.
#[derive(Clone, Debug, PartialEq)]
pub struct LessonItem {
    /// The song's file, seen from the lesson's.
    pub song: Placed<String>,
    /// Practice speeds in percent of the tempo, each once.
    pub speeds: Vec<f64>,
    /// Whose chair is open.
    pub sit_out: Vec<Placed<SitOutRule>>,
    /// The line-up; the song's own if `None`.
    pub band: Option<RoleSet>,
    /// The key; the song's own if `None`.
    pub key: Option<Placed<Key>>,
    /// The backing style; the song's own if `None`.
    pub style: Option<Placed<String>>,
    /// How much of the craft the banjo's part shows.
    pub level: Level,
    /// What goes round and round; the whole song if `None`.
    pub stretch: Option<Placed<Stretch>>,
    /// How often that goes round, and each change.
    pub rounds: NonZeroU32,
    /// Chord changes to drill.
    pub changes: Vec<Placed<ChangeChoice>>,
    /// Bars of each chord of a change.
    pub change_bars: u32,
    /// Where it says that the banjo's part is to be heard too, if it does.
    pub with_banjo: Option<Range<usize>>,
    /// Bars of clicks before each.
    pub count_in: u32,
    /// A word from the teacher.
    pub notes: Option<String>,
}

impl LessonItem {
    /// How often what goes round goes round where nothing is said: once to find it, twice to learn it and once
    /// to have it.
    pub const ROUNDS: NonZeroU32 = NonZeroU32::MIN.saturating_add(3);
    /// Bars of each chord of a change where nothing is said.
    pub const CHANGE_BARS: u32 = 2;
}
