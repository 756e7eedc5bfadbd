use super::step::{BanjoDoes, Held};
use super::{Ends, Pick, Slur};
use crate::theory::fretboard::banjo::{number_at, place_of, sounding};
use crate::time::Ticks;

/// How long after it was picked a string still has enough in it for a slur: by then it has lost most of its tone
/// (common practice, no source).
const SPEAKS: Ticks = Ticks::QUARTER;

/// Which fret each string sounds at, step by step.
pub(super) struct StringStates {
    capo: u8,
    held: Held,
    /// For each string by its place in the tuning since when it sounds, and at which fret.
    sounding: [Option<(Ticks, u8)>; 5],
}

impl StringStates {
    /// Silence, with the capo at a fret.
    pub(super) fn new(capo: u8) -> Self {
        Self { capo, held: Held::default(), sounding: [None; 5] }
    }

    /// What the left hand holds.
    pub(super) const fn held(&self) -> &Held {
        &self.held
    }

    /// The fret of the capo.
    pub(super) const fn capo(&self) -> u8 {
        self.capo
    }

    /// What a step does to the strings, as it sounds them.
    pub(super) fn act(&mut self, at: Ticks, does: &BanjoDoes) {
        match does {
            BanjoDoes::Damp | BanjoDoes::Again => self.sounding = [None; 5],
            BanjoDoes::Hold(held) => {
                self.held = *held;
                for (place, string) in self.sounding.iter_mut().enumerate() {
                    let number = number_at(place);
                    let stays = |fret| held.note(number) == Some(sounding(number, fret, self.capo));
                    if string.is_some_and(|(_, fret)| !stays(fret)) {
                        *string = None;
                    }
                }
            }
            BanjoDoes::Pick(picks) => {
                let clipped = |pick: &Pick| matches!(pick.ends, Ends::Vamped | Ends::Choked);
                if picks.iter().any(clipped) {
                    self.sounding = [None; 5];
                }
                for pick in picks.iter().filter(|pick| !clipped(pick)) {
                    if let Some(string) = self.sounding.get_mut(place_of(pick.string)) {
                        *string = Some((at, pick.fret));
                    }
                }
            }
        }
    }

    /// True if the string of a pick can be slurred to its fret: it sounds at the fret that the slur comes from.
    pub(super) fn can_slur(&self, pick: &Pick, slur: Slur) -> bool {
        let state = self.sounding.get(place_of(pick.string)).copied().flatten();
        slur.can_reach(pick.string, pick.fret)
            && state.is_some_and(|(since, fret)| {
                fret == slur.from && since < pick.at && pick.at - since <= SPEAKS
            })
    }
}
