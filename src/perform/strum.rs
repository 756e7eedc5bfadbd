use super::cue::Cue;
use super::feel::Feel;
use super::strings::{Ring, Strings};
use crate::style::Loud;
use crate::theory::MidiNote;
use crate::time::Ticks;

/// What each further string of a stroke loses: the pick slows as it crosses (common practice, no
/// source).
const FADE: f64 = 0.03;

/// One stroke across some strings.
pub(super) struct Strum<'a> {
    /// The strings in the order in which the pick crosses them, with their pitches.
    pub notes: &'a [(usize, MidiNote)],
    /// How many strings the pick has crossed before them in the same stroke.
    pub crossed: usize,
    /// From the first string crossed to the last.
    pub spread: Ticks,
    /// How hard.
    pub loud: Loud,
    /// The share of that loudness: below 1 for an up-stroke.
    pub share: f64,
    /// How long it sounds.
    pub ring: Ring,
}

impl Strum<'_> {
    /// Plays the stroke.
    pub(super) fn play(&self, cue: Cue, feel: &mut Feel, strings: &mut Strings) {
        let at = feel.place(cue.at, cue.even);
        let gaps = (self.crossed + self.notes.len()).saturating_sub(1).max(1) as i64;
        for (index, &(string, pitch)) in (self.crossed..).zip(self.notes) {
            let later = Ticks::new(self.spread.get() * index as i64 / gaps);
            let share = self.share * (1.0 - FADE * index as f64);
            let velocity = feel.velocity(cue.at, self.loud, share);
            strings.strike(string, at + later, pitch, velocity, self.ring);
        }
    }
}
