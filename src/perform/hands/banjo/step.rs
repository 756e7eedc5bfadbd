use super::{Ends, Pick, Sounded};
use crate::perform::cue::Cue;
use crate::style::Loud;
use crate::theory::MidiNote;
use crate::theory::fretboard::banjo::{BanjoHand, Moment, Way, number_at, place_of, right_hand};
use crate::time::Ticks;

/// No finger plays twice in a row at the speed of eighth notes or faster.
const SOON: Ticks = Ticks::EIGHTH;

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
    /// Picks strings, thumb first.
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
}

/// What the hands are to do, before it is known which finger picks what.
#[derive(Debug, Default)]
pub struct BanjoDrafts {
    moments: Vec<Moment>,
    drafts: Vec<Draft>,
}

/// A step whose fingers are not chosen yet.
#[derive(Debug)]
struct Draft {
    at: Ticks,
    even: bool,
    bar: u32,
    does: Drafted,
}

#[derive(Debug)]
enum Drafted {
    Damp,
    Hold(Held),
    /// What the next moment chooses.
    Pick(Held, Loud, Ends),
    Again,
}

impl BanjoDrafts {
    /// Stops every string.
    pub fn damp(&mut self, cue: Cue) {
        self.draft(cue, Drafted::Damp);
    }

    /// Moves the left hand.
    pub fn hold(&mut self, cue: Cue, held: Held) {
        self.draft(cue, Drafted::Hold(held));
    }

    /// Begins the round again.
    pub fn again(&mut self, cue: Cue) {
        self.draft(cue, Drafted::Again);
    }

    /// Picks strings in one of some ways. What is to ring but is not what the hand holds only passes.
    pub fn pick(&mut self, cue: Cue, held: Held, ways: Vec<Way>, (loud, ends): (Loud, Ends)) {
        self.moments.push(Moment { at: cue.at.get(), ways });
        self.draft(cue, Drafted::Pick(held, loud, ends));
    }

    /// All moments so far at which something is picked, in order of time.
    pub fn moments(&mut self) -> &mut [Moment] {
        &mut self.moments
    }

    /// All that is done, with the fingers that have the least trouble.
    pub fn finish(self, capo: u8) -> Vec<BanjoStep> {
        let mut plucked = right_hand(&self.moments, SOON.get()).into_iter();
        let mut does = |at, bar, does| match does {
            Drafted::Damp => BanjoDoes::Damp,
            Drafted::Hold(held) => BanjoDoes::Hold(held),
            Drafted::Again => BanjoDoes::Again,
            Drafted::Pick(held, loud, ends) => {
                let plucks = plucked.next().unwrap_or_default();
                let picks = plucks.iter().map(|pluck| {
                    let pitch = pluck.pitch(capo);
                    let belongs = held.note(pluck.string) == Some(pitch);
                    let ends = if ends == Ends::Rings && !belongs { Ends::Passes } else { ends };
                    let (string, fret, finger) = (pluck.string, pluck.fret, pluck.finger);
                    let sounded = Sounded::Picked(finger);
                    Pick { at, bar, string, fret, sounded, pitch, loud, ends }
                });
                BanjoDoes::Pick(picks.collect())
            }
        };
        let steps = self.drafts.into_iter().map(|draft| {
            let Draft { at, even, bar, .. } = draft;
            BanjoStep { at, even, bar, does: does(at, bar, draft.does) }
        });
        steps.collect()
    }

    fn draft(&mut self, cue: Cue, does: Drafted) {
        self.drafts.push(Draft { at: cue.at, even: cue.even, bar: cue.bar, does });
    }
}
