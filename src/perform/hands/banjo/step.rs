use std::collections::HashSet;

use super::string_states::StringStates;
use super::{Ends, Pick, Slur, Sounded};
use crate::perform::cue::Cue;
use crate::style::Loud;
use crate::theory::MidiNote;
use crate::theory::fretboard::banjo::{
    BanjoHand, Moment, Way, number_at, place_of, right_hand, sounding,
};
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
    fn ends(&self, ends: Ends, string: u8, pitch: MidiNote) -> Ends {
        match ends {
            Ends::Rings if self.note(string) != Some(pitch) => Ends::Passes,
            _ => ends,
        }
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
    Slur(Slurred),
    Again,
}

/// What the left hand is to do with one string.
#[derive(Clone, Copy, Debug)]
struct Slurred {
    string: u8,
    fret: u8,
    slur: Slur,
    loud: Loud,
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

    /// The left hand takes a string that sounds to another fret, with no finger of the right hand. What it hangs
    /// on, the string picked or slurred at the fret that it comes from no more than a quarter before, is added
    /// first; where that is left out, or the string has been stopped, this is left out too, and also where the
    /// string is picked at that very place. A fret that is not the chord's only passes.
    pub fn slur(&mut self, cue: Cue, string: u8, fret: u8, slur: Slur, loud: Loud) {
        self.draft(cue, Drafted::Slur(Slurred { string, fret, slur, loud }));
    }

    /// All moments so far at which something is picked, in order of time.
    pub fn moments(&mut self) -> &mut [Moment] {
        &mut self.moments
    }

    /// All that is done, with the fingers that have the least trouble.
    pub fn finish(self, capo: u8) -> Vec<BanjoStep> {
        let mut plucked = right_hand(&self.moments, SOON.get()).into_iter();
        let steps: Vec<(Draft, Vec<Pick>)> = self
            .drafts
            .into_iter()
            .map(|draft| {
                let Drafted::Pick(held, loud, ends) = draft.does else { return (draft, vec![]) };
                let Draft { at, bar, .. } = draft;
                let plucks = plucked.next().unwrap_or_default();
                let picks = plucks.iter().map(|pluck| {
                    let pitch = pluck.pitch(capo);
                    let ends = held.ends(ends, pluck.string, pitch);
                    let (string, fret, finger) = (pluck.string, pluck.fret, pluck.finger);
                    let sounded = Sounded::Picked(finger);
                    Pick { at, bar, string, fret, sounded, pitch, loud, ends }
                });
                let picks = picks.collect();
                (draft, picks)
            })
            .collect();
        let picked: HashSet<(Ticks, u8)> =
            steps.iter().flat_map(|(_, picks)| picks).map(|pick| (pick.at, pick.string)).collect();
        let mut strings = StringStates::new(capo);
        let steps = steps.into_iter().filter_map(|(draft, picks)| {
            let Draft { at, even, bar, .. } = draft;
            let does = match draft.does {
                Drafted::Damp => BanjoDoes::Damp,
                Drafted::Hold(held) => BanjoDoes::Hold(held),
                Drafted::Again => BanjoDoes::Again,
                Drafted::Pick(held, ..) => {
                    strings.over(held);
                    BanjoDoes::Pick(picks)
                }
                Drafted::Slur(Slurred { string, fret, slur, loud }) => {
                    let pitch = sounding(string, fret, capo);
                    let ends = strings.held().ends(Ends::Rings, string, pitch);
                    let sounded = Sounded::Slurred(slur);
                    let pick = Pick { at, bar, string, fret, sounded, pitch, loud, ends };
                    if picked.contains(&(at, string)) || !strings.can_slur(&pick, slur) {
                        return None;
                    }
                    BanjoDoes::Pick(vec![pick])
                }
            };
            strings.act(at, &does);
            Some(BanjoStep { at, even, bar, does })
        });
        steps.collect()
    }

    fn draft(&mut self, cue: Cue, does: Drafted) {
        self.drafts.push(Draft { at: cue.at, even: cue.even, bar: cue.bar, does });
    }
}
