use super::{Ends, Pick};
use crate::theory::MidiNote;
use crate::theory::fretboard::banjo::{BanjoHand, number_at, place_of, sounding};
use crate::time::Ticks;

/// What the player does at a place on the grid.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BanjoStep {
    /// The place on the even grid, before swing and feel.
    pub at: Ticks,
    /// True where swing leaves things alone.
    pub even: bool,
    /// The bar that it stands in, in the arrangement's bars.
    pub bar: u32,
    /// What is done there.
    pub does: BanjoDoes,
}

/// What a banjo player does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BanjoDoes {
    /// Stops every string.
    Damp,
    /// Moves the left hand.
    Hold(Held),
    /// Picks strings, thumb first; or takes one that sounds to another fret.
    Pick(Vec<Pick>),
    /// Begins the round again, which only shows how long the last notes ring.
    Again,
}

/// What the five strings would sound as the left hand holds them, by their places in the tuning; `None` for
/// one that does not belong to the chord.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Held(pub [Option<MidiNote>; 5]);

impl Held {
    /// From what each string, by its number from 1 to 5, would sound.
    pub fn new(note: impl Fn(u8) -> Option<MidiNote>) -> Self {
        let mut held = Self::default();
        for (place, string) in held.0.iter_mut().enumerate() {
            *string = note(number_at(place));
        }
        held
    }

    /// A chord under the hand.
    pub fn hand(hand: &BanjoHand) -> Self {
        Self::new(|number| hand.note(number))
    }

    /// What string `number`, 1 to 5, would sound.
    pub fn note(&self, number: u8) -> Option<MidiNote> {
        self.0.get(place_of(number)).copied().flatten()
    }

    /// How a note ends that is to end in some way: what is to ring but is not what the hand holds only passes.
    pub(super) fn ends(&self, ends: Ends, string: u8, pitch: MidiNote) -> Ends {
        match ends {
            Ends::Rings if self.note(string) != Some(pitch) => Ends::Passes,
            _ => ends,
        }
    }

    /// Holds the string of a slur at the fret that it comes from.
    pub(super) fn stay(&mut self, step: &BanjoStep, capo: u8) {
        let BanjoDoes::Pick(picks) = &step.does else { return };
        for pick in picks {
            if let (Some(slur), Some(string)) = (pick.slur(), self.0.get_mut(place_of(pick.string)))
            {
                *string = Some(sounding(pick.string, slur.from, capo));
            }
        }
    }
}
