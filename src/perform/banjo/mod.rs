mod pick;
mod plan;

pub use pick::{Ends, Pick};

use plan::{BanjoPlan, Does};

use super::around::{rings_until, with_what_comes};
use super::cues::Cue;
use super::feel::Feel;
use super::strings::{Ring, Strings};
use super::{CHOKE_MILLIS, Note};
use crate::arrange::Arrangement;
use crate::style::RoleStyle;
use crate::theory::fretboard::banjo::{BanjoHand, Finger, number_at, place_of};
use crate::time::Ticks;

/// How long a vamp sounds where the style does not say, in milliseconds: as short as a mandolin's chop
/// and a little rounder (common practice, no source).
const CLIP_MILLIS: f64 = 110.0;

/// How long a banjo's string rings at most, in milliseconds: by then it is not heard any more (common
/// practice, no source).
const RING_MILLIS: f64 = 2000.0;

/// How long a note beside the chord rings at most: the finger goes back to the chord before a beat is over,
/// so that no other player's chord rubs against it.
const BESIDE: Ticks = Ticks::new(Ticks::QUARTER.get() * 3 / 4);

/// The strings of a banjo.
const STRINGS: usize = 5;

/// All that a banjo picks in the song, in the order of time: the strings, frets and fingers behind the
/// notes of the part. Where the last bar leads back to the first, one round.
pub fn banjo_picks(song: &Arrangement, style: &RoleStyle, seed: u64) -> Vec<Pick> {
    let around = with_what_comes(song);
    let steps = BanjoPlan::new(&around, style, seed).steps.into_iter();
    let round = steps.take_while(|step| !matches!(step.does, Does::Again));
    round
        .flat_map(|step| match step.does {
            Does::Pick(picks) => picks,
            Does::Damp | Does::Change(_) | Does::Again => Vec::new(),
        })
        .collect()
}

/// The banjo's notes.
pub(super) fn play(song: &Arrangement, style: &RoleStyle, feel: Feel, seed: u64) -> Vec<Note> {
    let ticks = |millis| song.tempo.ticks_in_millis(millis);
    let plan = BanjoPlan::new(song, style, seed);
    let most = |millis| Ring { share: 1.0, at_most: Some(ticks(millis)) };
    let longest = ticks(style.clip.unwrap_or(RING_MILLIS));
    let mut banjo = Banjo {
        feel,
        hands: &plan.hands,
        spread: ticks(style.spread),
        ring: Ring { share: style.length, at_most: Some(longest) },
        passing: Ring { share: style.length, at_most: Some(longest.min(BESIDE)) },
        clip: most(style.clip.unwrap_or(CLIP_MILLIS)),
        choke: most(CHOKE_MILLIS),
        strings: Strings::new(rings_until(song)),
    };
    for step in &plan.steps {
        banjo.act(step.cue, &step.does);
    }
    banjo.strings.finish()
}

struct Banjo<'a> {
    feel: Feel,
    hands: &'a [BanjoHand],
    spread: Ticks,
    ring: Ring,
    passing: Ring,
    clip: Ring,
    choke: Ring,
    strings: Strings,
}

impl Banjo<'_> {
    fn act(&mut self, cue: Cue, does: &Does) {
        self.strings.set_bar(cue.bar);
        match does {
            Does::Again => self.strings.end_round(),
            Does::Damp => {
                let at = self.feel.place(cue.at, cue.even);
                self.strings.damp_all(at);
            }
            Does::Change(id) => self.change(cue, self.hands.get(id.0 as usize)),
            Does::Pick(picks) => self.pick(cue, picks),
        }
    }

    /// The left hand moves: strings that the new chord holds as they are ring on.
    fn change(&mut self, cue: Cue, hand: Option<&BanjoHand>) {
        let at = self.feel.place(cue.at, cue.even);
        for place in 0..STRINGS {
            let held = hand.and_then(|hand| hand.note(number_at(place)));
            if self.strings.pitch(place).is_some_and(|pitch| Some(pitch) != held) {
                self.strings.damp(place, at);
            }
        }
    }

    fn pick(&mut self, cue: Cue, picks: &[Pick]) {
        let at = self.feel.place(cue.at, cue.even);
        // For a vamp or a stop the hand leaves whatever rang.
        if picks.iter().any(|pick| matches!(pick.ends, Ends::Vamped | Ends::Choked)) {
            self.strings.damp_all(at);
        }
        let gaps = picks.len().saturating_sub(1).max(1) as i64;
        for (index, pick) in (0..).zip(picks) {
            let later = Ticks::new(self.spread.get() * index / gaps);
            let ring = match pick.ends {
                Ends::Rings => self.ring,
                Ends::Passes => self.passing,
                Ends::Vamped => self.clip,
                Ends::Choked => self.choke,
                Ends::Last => Ring::FULL,
            };
            let velocity = self.feel.velocity(cue.at, pick.loud, share(pick.finger));
            self.strings.strike(place_of(pick.string), at + later, pick.pitch, velocity, ring);
        }
    }
}

/// A finger's share of the loudness: the thumb drives a roll, the index finger is the weakest (common
/// practice, no source).
const fn share(finger: Finger) -> f64 {
    match finger {
        Finger::Thumb => 1.0,
        Finger::Index => 0.91,
        Finger::Middle => 0.95,
    }
}
