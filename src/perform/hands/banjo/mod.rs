mod drafts;
mod part;
mod pick;
mod plan;
mod step;
mod string_states;
pub(super) mod tune;

pub use drafts::BanjoDrafts;
pub use part::{banjo_cues, banjo_part};
pub use pick::{Ends, Pick, Slur, SlurKind, Sounded};
pub use step::{BanjoDoes, BanjoStep, Held};

use crate::arrange::Arrangement;
use crate::chart::Role;
use crate::perform::Note;
use crate::perform::around::{rings_until, with_what_comes};
use crate::perform::choice::Seat;
use crate::perform::feel::Feel;
use crate::perform::slurs::{SLURRED, SlidingHand};
use crate::perform::strings::{CHOKE_MILLIS, Ring, Strings};
use crate::style::RoleStyle;
use crate::theory::fretboard::banjo::{Finger, number_at, place_of};
use crate::time::Ticks;

/// Whose hands these are, for a part that is made apart from the band.
const ROLE: Role = Role::Banjo;

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
    let song = with_what_comes(song);
    picks_of(&plan::plan(&Seat { song: &song, part: style, role: ROLE, seed, runs: None }))
}

/// All that is picked in some steps until the round begins again.
pub fn picks_of(steps: &[BanjoStep]) -> Vec<Pick> {
    let round = steps.iter().take_while(|step| step.does != BanjoDoes::Again);
    let picks = round.filter_map(|step| match &step.does {
        BanjoDoes::Pick(picks) => Some(picks),
        BanjoDoes::Damp | BanjoDoes::Hold(_) | BanjoDoes::Again => None,
    });
    picks.flatten().copied().collect()
}

/// The banjo's notes.
pub(super) fn play(seat: &Seat<'_>, feel: Feel) -> Vec<Note> {
    sound(seat.song, seat.part, feel, &plan::plan(seat))
}

/// What some steps sound like, in a song with the bars that show how its last notes ring.
fn sound(song: &Arrangement, style: &RoleStyle, feel: Feel, steps: &[BanjoStep]) -> Vec<Note> {
    let ticks = |millis| song.tempo.ticks_in_millis(millis);
    let most = |millis| Ring { share: 1.0, at_most: Some(ticks(millis)) };
    let longest = ticks(style.clip.unwrap_or(RING_MILLIS));
    let mut banjo = Banjo {
        feel,
        spread: ticks(style.spread),
        ring: Ring { share: style.length, at_most: Some(longest) },
        passing: Ring { share: style.length, at_most: Some(longest.min(BESIDE)) },
        clip: most(style.clip.unwrap_or(CLIP_MILLIS)),
        choke: most(CHOKE_MILLIS),
        slides: SlidingHand::at(song.tempo),
        strings: Strings::new(rings_until(song)),
    };
    for step in steps {
        banjo.act(step);
    }
    banjo.strings.finish()
}

struct Banjo {
    feel: Feel,
    spread: Ticks,
    ring: Ring,
    passing: Ring,
    clip: Ring,
    choke: Ring,
    slides: SlidingHand,
    strings: Strings,
}

impl Banjo {
    fn act(&mut self, step: &BanjoStep) {
        self.strings.set_bar(step.bar);
        match &step.does {
            BanjoDoes::Again => self.strings.end_round(),
            BanjoDoes::Damp => {
                let at = self.feel.place(step.at, step.even);
                self.strings.damp_all(at);
            }
            BanjoDoes::Hold(held) => self.hold(step, *held),
            BanjoDoes::Pick(picks) => self.pick(step, picks),
        }
    }

    /// The left hand moves: strings that it holds as they are ring on.
    fn hold(&mut self, step: &BanjoStep, held: Held) {
        let at = self.feel.place(step.at, step.even);
        for place in 0..STRINGS {
            let note = held.note(number_at(place));
            if self.strings.pitch(place).is_some_and(|pitch| Some(pitch) != note) {
                self.strings.damp(place, at);
            }
        }
    }

    fn pick(&mut self, step: &BanjoStep, picks: &[Pick]) {
        let at = self.feel.place(step.at, step.even);
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
            let velocity = |share| self.feel.velocity(step.at, pick.loud, share);
            let (string, pitch) = (place_of(pick.string), pick.pitch);
            match pick.sounded {
                Sounded::Picked(finger) => {
                    self.strings.strike(string, at + later, pitch, velocity(share(finger)), ring);
                }
                Sounded::Slurred(Slur { kind: SlurKind::Slide, .. }) => {
                    self.slides.slide(&mut self.strings, (string, at, pitch), velocity, ring);
                }
                Sounded::Slurred(_) => {
                    self.strings.slur(string, at, pitch, velocity(SLURRED), ring);
                }
            }
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
