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

#[cfg(test)]
mod tests {
    use super::super::{BanjoDrafts, SlurKind, Sounded, picks_of};
    use super::*;
    use crate::perform::{Act, Cue};
    use crate::style::Loud;
    use crate::theory::fretboard::banjo::{Finger, Pluck, Way};

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
