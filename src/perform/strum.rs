use super::cue::Cue;
use super::feel::Feel;
use super::strings::{Ring, Strings};
use crate::style::Loud;
use crate::theory::MidiNote;
use crate::time::Ticks;

/// What each further string of a stroke loses: the pick slows as it crosses (common practice, no
/// source).
const FADE: f64 = 0.03;

/// How the hand varies from stroke to stroke: how often it takes one string less, and how often it passes over one
/// in the middle; how far the time it takes to cross them strays from the style's, as shares of it (common practice,
/// no source).
const THINNER: f64 = 0.16;
const MISSED: f64 = 0.05;
const QUICKEST: f64 = 0.65;
/// The slowest that a hand crosses the strings, as a share of the style's `spread`.
pub const SLOWEST: f64 = 1.5;

/// An accent crosses the strings quicker.
const ACCENT: f64 = 0.85;

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
    /// Every string is meant, as when all strike together: none is missed.
    pub whole: bool,
}

impl Strum<'_> {
    /// Plays the stroke.
    pub(super) fn play(&self, cue: Cue, feel: &mut Feel, strings: &mut Strings) {
        let at = feel.place(cue.at, cue.even);
        let (missed, spread) = if feel.varies() {
            (self.missed(feel.draw(cue.at, 0), feel.draw(cue.at, 1)), self.spread_at(cue.at, feel))
        } else {
            (None, self.spread.get() as f64)
        };
        let gaps = (self.crossed + self.notes.len()).saturating_sub(1).max(1) as f64;
        for (index, &(string, pitch)) in (self.crossed..).zip(self.notes) {
            if missed == Some(index - self.crossed) {
                continue;
            }
            let later = Ticks::new((spread * index as f64 / gaps).round() as i64);
            let share = self.share * (1.0 - FADE * index as f64);
            let velocity = feel.velocity(cue.at, self.loud, share);
            let velocity = feel.apart(velocity, cue.at, string);
            strings.strike(string, at + later, pitch, velocity, self.ring);
        }
    }

    /// How long the hand takes to cross the strings this time, in ticks.
    fn spread_at(&self, at: Ticks, feel: &Feel) -> f64 {
        let quick = if self.loud == Loud::Accent { ACCENT } else { 1.0 };
        // As often quicker as slower: most near the style's own.
        let stray = feel.draw(at, 2) + feel.draw(at, 3) - 1.0;
        let stretch = if stray < 0.0 { 1.0 - QUICKEST } else { SLOWEST - 1.0 };
        self.spread.get() as f64 * quick * (1.0 + stretch * stray)
    }

    /// The string that this stroke does not reach, by its place in the stroke: the last one, now and then one in the
    /// middle.
    fn missed(&self, draw: f64, which: f64) -> Option<usize> {
        let count = self.notes.len();
        // Of fewer than four two would be left, which is no chord.
        if self.whole || count < 4 {
            return None;
        }
        if draw < THINNER {
            Some(count - 1)
        } else if draw < THINNER + MISSED {
            Some(1 + (which * (count - 2) as f64) as usize)
        } else {
            None
        }
    }
}
