use super::step::{BanjoDoes, BanjoStep, Held};
use super::string_states::StringStates;
use super::{Ends, Pick, Slur, Sounded};
use crate::perform::cue::Cue;
use crate::style::Loud;
use crate::theory::fretboard::banjo::{Moment, Way, right_hand, sounding};
use crate::time::Ticks;

/// No finger plays twice in a row at the speed of eighth notes or faster.
const SOON: Ticks = Ticks::EIGHTH;

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
            if let Some(step) = slurred(&strings, &slur, &[]) {
                act(&mut strings, step);
            }
        }
        let mut here = Vec::new();
        while let Some(slur) = slurs.next_if(|slur| slur.at == at) {
            let slur = slurred(&strings, &slur, together);
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
        if let Some(step) = slurred(&strings, &slur, &[]) {
            act(&mut strings, step);
        }
    }
    out
}

/// A slur as a step beside what else is done at its place; `None` if no hand can do it there.
fn slurred(strings: &StringStates, draft: &Draft, together: &[BanjoStep]) -> Option<BanjoStep> {
    let Draft { at, even, bar, does: Drafted::Slur(slurred) } = draft else { return None };
    let (at, bar) = (*at, *bar);
    let Slurred { string, fret, slur, loud } = *slurred;
    // What the hand holds from here on.
    let mut held = *strings.held();
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
    let pitch = sounding(string, fret, strings.capo());
    let ends = held.ends(Ends::Rings, string, pitch);
    let sounded = Sounded::Slurred(slur);
    let pick = Pick { at, bar, string, fret, sounded, pitch, loud, ends };
    strings.can_slur(&pick, slur).then(|| {
        let does = BanjoDoes::Pick(vec![pick]);
        BanjoStep { at, even: *even, bar, does }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::perform::{Act, SlurKind, picks_of};
    use crate::theory::fretboard::banjo::{Finger, Pluck};

    const LOUD: Loud = Loud::Normal;

    fn cue(at: i64) -> Cue {
        Cue::new(Ticks::new(at), 0, 0, Act::Change)
    }

    fn pick(drafts: &mut BanjoDrafts, at: i64, string: u8, fret: u8, finger: Finger, ends: Ends) {
        let way = Way::only(&[Pluck { string, fret, finger }]).unwrap();
        drafts.pick(cue(at), Held::default(), vec![way], (LOUD, ends));
    }

    fn slur(kind: SlurKind, from: u8) -> Slur {
        Slur { kind, from }
    }

    /// String, fret and where from, for each that is slurred.
    fn slurred(drafts: BanjoDrafts) -> Vec<(u8, u8, u8)> {
        let picks = picks_of(&drafts.finish(0));
        let all = picks.iter().filter_map(|pick| Some((pick.string, pick.fret, pick.slur()?.from)));
        all.collect()
    }

    #[test]
    fn a_string_goes_on_to_another_fret() {
        let mut drafts = BanjoDrafts::default();
        // Said in any order.
        drafts.slur(cue(480), 3, 0, slur(SlurKind::Pull, 3), LOUD);
        pick(&mut drafts, 0, 3, 2, Finger::Thumb, Ends::Rings);
        drafts.slur(cue(240), 3, 3, slur(SlurKind::Hammer, 2), LOUD);
        drafts.hold(cue(480), Held::default());
        pick(&mut drafts, 480, 2, 0, Finger::Index, Ends::Rings);
        let picks = picks_of(&drafts.finish(2));
        let told: Vec<_> = picks
            .iter()
            .map(|pick| (pick.at.get(), pick.string, pick.fret, pick.finger(), pick.pitch.get()))
            .collect();
        // G3, with the capo at the second fret A3, is 57 open.
        assert_eq!(
            told,
            [
                (0, 3, 2, Some(Finger::Thumb), 59),
                (240, 3, 3, None, 60),
                // The hand moves on with it, and it leaves its pitch free for the pick.
                (480, 3, 0, None, 57),
                (480, 2, 0, Some(Finger::Index), 61),
            ]
        );
        assert_eq!(picks[1].sounded, Sounded::Slurred(slur(SlurKind::Hammer, 2)));
        assert_eq!(picks[1].ends, Ends::Passes, "no chord is held");
    }

    #[test]
    fn nothing_is_slurred_on_a_string_that_does_not_sound_there() {
        let hammer = slur(SlurKind::Hammer, 2);
        let with = |made: &dyn Fn(&mut BanjoDrafts)| {
            let mut drafts = BanjoDrafts::default();
            made(&mut drafts);
            slurred(drafts)
        };
        let picked = |drafts: &mut BanjoDrafts| pick(drafts, 0, 3, 2, Finger::Thumb, Ends::Rings);
        let late = Ticks::QUARTER.get();
        assert_eq!(
            with(&|drafts| {
                picked(drafts);
                drafts.slur(cue(late), 3, 3, hammer, LOUD);
            }),
            [(3, 3, 2)]
        );
        let none = |made: &dyn Fn(&mut BanjoDrafts), why: &str| {
            assert_eq!(with(made), [], "{why}");
        };
        none(&|drafts| drafts.slur(cue(240), 3, 3, hammer, LOUD), "never picked");
        none(
            &|drafts| {
                picked(drafts);
                drafts.slur(cue(late + 1), 3, 3, hammer, LOUD);
            },
            "too long ago",
        );
        none(
            &|drafts| {
                picked(drafts);
                drafts.slur(cue(240), 2, 3, hammer, LOUD);
                drafts.slur(cue(240), 3, 4, slur(SlurKind::Slide, 3), LOUD);
            },
            "another string, another fret",
        );
        none(
            &|drafts| {
                picked(drafts);
                drafts.damp(cue(120));
                drafts.slur(cue(240), 3, 3, hammer, LOUD);
            },
            "damped",
        );
        none(
            &|drafts| {
                picked(drafts);
                drafts.hold(cue(120), Held::default());
                drafts.slur(cue(240), 3, 3, hammer, LOUD);
            },
            "the hand moved",
        );
        none(
            &|drafts| {
                pick(drafts, 0, 3, 2, Finger::Thumb, Ends::Vamped);
                drafts.slur(cue(240), 3, 3, hammer, LOUD);
            },
            "vamped",
        );
        none(
            &|drafts| {
                picked(drafts);
                drafts.slur(cue(480), 3, 3, hammer, LOUD);
                pick(drafts, 480, 3, 0, Finger::Index, Ends::Rings);
            },
            "picked there",
        );
        none(
            &|drafts| {
                picked(drafts);
                drafts.slur(cue(480), 3, 3, hammer, LOUD);
                pick(drafts, 480, 2, 0, Finger::Index, Ends::Choked);
            },
            "stopped there",
        );
        none(
            &|drafts| {
                pick(drafts, 0, 2, 0, Finger::Thumb, Ends::Rings);
                // The thumb would play twice within an eighth: this pick is left out, and what hangs on it.
                pick(drafts, 240, 3, 2, Finger::Thumb, Ends::Rings);
                drafts.slur(cue(480), 3, 3, hammer, LOUD);
            },
            "the pick was left out",
        );
    }

    #[test]
    fn a_slur_is_one_that_a_hand_can_do() {
        let can = |kind, from, string, fret| slur(kind, from).can_reach(string, fret);
        assert!(can(SlurKind::Slide, 2, 3, 4) && can(SlurKind::Slide, 4, 3, 2));
        assert!(!can(SlurKind::Slide, 0, 3, 4) && !can(SlurKind::Slide, 2, 3, 0));
        assert!(can(SlurKind::Hammer, 0, 4, 2) && !can(SlurKind::Hammer, 2, 4, 0));
        assert!(can(SlurKind::Pull, 3, 1, 0) && !can(SlurKind::Pull, 0, 1, 3));
        assert!(!can(SlurKind::Hammer, 0, 5, 2), "the short string is never stopped");
        assert!(!can(SlurKind::Hammer, 22, 1, 23), "past the neck");
    }
}
