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

    /// The left hand takes a string that sounds to another fret at a cue's place, with no finger of the right hand;
    /// in any order beside the others. It hangs on the string having been picked or slurred at the fret that it
    /// comes from, no more than a quarter before: where that was left out, or the string has been stopped since,
    /// this is left out too, and also where the string is picked at that very place. A fret that is not the
    /// chord's only passes.
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
        let (slurs, drafts): (Vec<Draft>, Vec<Draft>) =
            self.drafts.into_iter().partition(|draft| matches!(draft.does, Drafted::Slur(_)));
        let mut does = |at, bar, does| match does {
            Drafted::Damp | Drafted::Slur(_) => BanjoDoes::Damp,
            Drafted::Hold(held) => BanjoDoes::Hold(held),
            Drafted::Again => BanjoDoes::Again,
            Drafted::Pick(held, loud, ends) => {
                let plucks = plucked.next().unwrap_or_default();
                let picks = plucks.iter().map(|pluck| {
                    let pitch = pluck.pitch(capo);
                    let ends = held.ends(ends, pluck.string, pitch);
                    let (string, fret, finger) = (pluck.string, pluck.fret, pluck.finger);
                    let sounded = Sounded::Picked(finger);
                    Pick { at, bar, string, fret, sounded, pitch, loud, ends }
                });
                BanjoDoes::Pick(picks.collect())
            }
        };
        let steps = drafts.into_iter().map(|draft| {
            let Draft { at, even, bar, .. } = draft;
            BanjoStep { at, even, bar, does: does(at, bar, draft.does) }
        });
        let steps: Vec<BanjoStep> = steps.collect();
        if slurs.is_empty() { steps } else { with_slurs(steps, slurs, capo) }
    }

    fn draft(&mut self, cue: Cue, does: Drafted) {
        self.drafts.push(Draft { at: cue.at, even: cue.even, bar: cue.bar, does });
    }
}

/// The steps, and among them those slurs that a hand can do.
fn with_slurs(steps: Vec<BanjoStep>, mut slurs: Vec<Draft>, capo: u8) -> Vec<BanjoStep> {
    slurs.sort_by_key(|slur| slur.at);
    let mut slurs = slurs.into_iter().peekable();
    let mut strings = StringStates::new(capo);
    let mut out: Vec<BanjoStep> = Vec::with_capacity(steps.len());
    let mut act = |strings: &mut StringStates, step: BanjoStep| {
        strings.act(step.at, &step.does);
        out.push(step);
    };
    for together in steps.chunk_by(|one, other| one.at == other.at) {
        let Some(at) = together.first().map(|step| step.at) else { continue };
        while let Some(slur) = slurs.next_if(|slur| slur.at < at) {
            if let Some(step) = strings.slurred(&slur, &[]) {
                act(&mut strings, step);
            }
        }
        let mut here = Vec::new();
        while let Some(slur) = slurs.next_if(|slur| slur.at == at) {
            let slur = strings.slurred(&slur, together);
            // A string goes to one place at a time.
            let other =
                |slur: &BanjoStep| here.iter().all(|before: &BanjoStep| before.does != slur.does);
            here.extend(slur.filter(other));
        }
        for step in together {
            let mut step = step.clone();
            match &mut step.does {
                // A finger that goes elsewhere from a fret stays there until it does.
                BanjoDoes::Hold(held) => here.iter().for_each(|slur| held.stay(slur, capo)),
                // A string that goes on leaves its pitch free for one that is picked.
                BanjoDoes::Pick(_) => here.drain(..).for_each(|slur| act(&mut strings, slur)),
                BanjoDoes::Damp | BanjoDoes::Again => {}
            }
            act(&mut strings, step);
        }
        here.drain(..).for_each(|slur| act(&mut strings, slur));
    }
    for slur in slurs {
        if let Some(step) = strings.slurred(&slur, &[]) {
            act(&mut strings, step);
        }
    }
    out
}

impl Held {
    /// Holds the string of a slur at the fret that it comes from.
    fn stay(&mut self, step: &BanjoStep, capo: u8) {
        let BanjoDoes::Pick(picks) = &step.does else { return };
        for pick in picks {
            if let (Some(slur), Some(string)) = (pick.slur(), self.0.get_mut(place_of(pick.string)))
            {
                *string = Some(sounding(pick.string, slur.from, capo));
            }
        }
    }
}

impl StringStates {
    /// A slur as a step beside what else is done at its place; `None` if no hand can do it there.
    fn slurred(&self, draft: &Draft, together: &[BanjoStep]) -> Option<BanjoStep> {
        let Draft { at, even, bar, does: Drafted::Slur(slurred) } = draft else { return None };
        let (at, bar) = (*at, *bar);
        let Slurred { string, fret, slur, loud } = *slurred;
        // What the hand holds from here on.
        let mut held = *self.held();
        for step in together {
            match &step.does {
                BanjoDoes::Damp | BanjoDoes::Again => return None,
                BanjoDoes::Hold(next) => held = *next,
                BanjoDoes::Pick(picks) => {
                    let stops = |pick: &Pick| {
                        pick.string == string || matches!(pick.ends, Ends::Vamped | Ends::Choked)
                    };
                    if picks.iter().any(stops) {
                        return None;
                    }
                }
            }
        }
        let pitch = sounding(string, fret, self.capo());
        let ends = held.ends(Ends::Rings, string, pitch);
        let sounded = Sounded::Slurred(slur);
        let pick = Pick { at, bar, string, fret, sounded, pitch, loud, ends };
        self.can_slur(&pick, slur).then(|| {
            let does = BanjoDoes::Pick(vec![pick]);
            BanjoStep { at, even: *even, bar, does }
        })
    }
}
