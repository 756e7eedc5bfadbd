//! What the hands do, before it is placed in time: the chart's chords as shapes, the pattern's slots as
//! strings, frets and fingers.

use super::{Ends, Pick};
use crate::arrange::{Arrangement, ChordId};
use crate::chart::Role;
use crate::perform::cues::{Act, Cue, cues};
use crate::perform::degree::interval;
use crate::style::{BassNote, Degree, Loud, RoleStyle, Strike, Stroke};
use crate::theory::fretboard::banjo::{
    BanjoHand, Hit, Moment, VampShape, Way, choose_banjo_capo, pinch, right_hand, vamp_shapes,
};
use crate::theory::fretboard::least_movement;
use crate::theory::{Chord, Key, added_sixth, lead_in};
use crate::time::Ticks;

/// No finger plays twice in a row at the speed of eighth notes or faster.
const SOON: Ticks = Ticks::EIGHTH;

/// What the player does at a place on the grid.
#[derive(Clone, Debug)]
pub(super) struct Step {
    /// The place.
    pub cue: Cue,
    /// What is done there.
    pub does: Does,
}

/// What a banjo player does.
#[derive(Clone, Debug)]
pub(super) enum Does {
    /// Stops every string.
    Damp,
    /// Moves the left hand to a chord.
    Change(ChordId),
    /// Picks strings, thumb first.
    Pick(Vec<Pick>),
    /// Begins the round again, which only shows how long the last notes ring.
    Again,
}

/// The hands' way through a whole song.
pub(super) struct BanjoPlan {
    /// The left hand on each of the song's chords.
    pub hands: Vec<BanjoHand>,
    /// All that is done, in the order of time.
    pub steps: Vec<Step>,
}

impl BanjoPlan {
    /// For a song with the bars that show how its last notes ring.
    pub(super) fn new(song: &Arrangement, style: &RoleStyle, seed: u64) -> Self {
        let capo = choose_banjo_capo(song.key);
        let hands: Vec<BanjoHand> =
            song.chords.iter().map(|chord| BanjoHand::new(chord, capo)).collect();
        let mut planner = Planner {
            song,
            hands: &hands,
            vamps: vamps(song, capo),
            moments: Vec::new(),
            drafts: Vec::new(),
            line: Vec::new(),
        };
        cues(song, style, Role::Banjo, seed, |cue| planner.act(cue));
        let Planner { moments, drafts, .. } = planner;
        let mut plucked = right_hand(&moments, SOON.get()).into_iter();
        let mut step = |Draft { cue, does }| {
            let does = match does {
                Drafted::Damp => Does::Damp,
                Drafted::Change(id) => Does::Change(id),
                Drafted::Again => Does::Again,
                Drafted::Pick(id, loud, ends) => {
                    let plucks = plucked.next().unwrap_or_default();
                    let hand = hands.get(id.0 as usize);
                    let picks = plucks.iter().map(|pluck| {
                        let held = hand.is_some_and(|h| h.fret(pluck.string) == Some(pluck.fret));
                        let ends = if ends == Ends::Rings && !held { Ends::Passes } else { ends };
                        Pick {
                            at: cue.at,
                            bar: cue.bar,
                            string: pluck.string,
                            fret: pluck.fret,
                            finger: pluck.finger,
                            pitch: pluck.pitch(capo),
                            loud,
                            ends,
                        }
                    });
                    Does::Pick(picks.collect())
                }
            };
            Step { cue, does }
        };
        let steps = drafts.into_iter().map(&mut step).collect();
        Self { hands, steps }
    }
}

/// For each span of the song, the shape up the neck that the hand would take, moving as little as may be.
fn vamps(song: &Arrangement, capo: u8) -> Vec<Option<VampShape>> {
    let candidates: Vec<Vec<VampShape>> =
        song.chords.iter().map(|chord| vamp_shapes(chord, capo)).collect();
    let sequence: Vec<usize> =
        song.spans.iter().filter_map(|span| Some(span.chord?.0 as usize)).collect();
    let mut chosen = least_movement(&candidates, &sequence).into_iter();
    song.spans
        .iter()
        .map(|span| candidates.get(span.chord?.0 as usize)?.get(chosen.next()?).copied())
        .collect()
}

/// A step whose fingers are not chosen yet.
struct Draft {
    cue: Cue,
    does: Drafted,
}

enum Drafted {
    Damp,
    Change(ChordId),
    /// What the next moment chooses.
    Pick(ChordId, Loud, Ends),
    Again,
}

struct Planner<'a> {
    song: &'a Arrangement,
    hands: &'a [BanjoHand],
    vamps: Vec<Option<VampShape>>,
    moments: Vec<Moment>,
    drafts: Vec<Draft>,
    /// The notes that lead into the next chord.
    line: Vec<u8>,
}

impl Planner<'_> {
    fn act(&mut self, cue: Cue) {
        let id = self.song.spans.get(cue.span).and_then(|span| span.chord);
        let does = match (cue.act, id) {
            (Act::Damp, _) => Some(Drafted::Damp),
            (Act::Again, _) => Some(Drafted::Again),
            (_, None) => None,
            (Act::Change, Some(id)) => Some(Drafted::Change(id)),
            (Act::Strike(strike), Some(id)) => self.strike(cue, strike, id),
            (Act::Walk { strike, step, of, to }, Some(id)) => {
                if step == 0 {
                    self.line = self.leading(id, of, to);
                }
                let class = self.line.get(step).copied();
                self.note(cue, strike, id, class, class.is_some())
            }
            (Act::Hit, Some(id)) => self.together(cue, id, Ends::Choked),
            (Act::FinalHit, Some(id)) => self.together(cue, id, Ends::Last),
        };
        self.drafts.extend(does.map(|does| Draft { cue, does }));
    }

    fn strike(&mut self, cue: Cue, strike: Strike, id: ChordId) -> Option<Drafted> {
        if strike.stroke == Some(Stroke::Chop) {
            let shape = self.vamps.get(cue.span).copied().flatten()?;
            return Some(self.moment(
                cue,
                id,
                shape.pinch(Hit::Groove),
                (strike.loud, Ends::Vamped),
            ));
        }
        let Some(note) = strike.bass else {
            let ways = self.hands.get(id.0 as usize)?.strings(strike.strings.iter());
            return Some(self.moment(cue, id, ways, (strike.loud, Ends::Rings)));
        };
        // A walk comes here where there is nowhere to lead to.
        let class = if let BassNote::Degree { degree, .. } = note {
            class_of(self.song.chord(id)?, degree, self.song.key)
        } else {
            None
        };
        self.note(cue, strike, id, class, false)
    }

    /// A note beside the chord and what is picked with it; the root if there is no such note.
    fn note(
        &mut self,
        cue: Cue,
        strike: Strike,
        id: ChordId,
        class: Option<u8>,
        leads: bool,
    ) -> Option<Drafted> {
        let root = self.song.chord(id)?.root.pitch_class();
        let hand = self.hands.get(id.0 as usize)?;
        let ways = hand.note_and_strings(class.unwrap_or(root), leads, strike.strings.iter());
        Some(self.moment(cue, id, ways, (strike.loud, Ends::Rings)))
    }

    fn together(&mut self, cue: Cue, id: ChordId, ends: Ends) -> Option<Drafted> {
        let ways = pinch(self.hands.get(id.0 as usize)?, Hit::Together);
        Some(self.moment(cue, id, ways, (Loud::Accent, ends)))
    }

    fn moment(
        &mut self,
        cue: Cue,
        id: ChordId,
        ways: Vec<Way>,
        (loud, ends): (Loud, Ends),
    ) -> Drafted {
        self.moments.push(Moment { at: cue.at.get(), ways });
        Drafted::Pick(id, loud, ends)
    }

    fn leading(&self, from: ChordId, steps: usize, to: ChordId) -> Vec<u8> {
        match (self.song.chord(from), self.song.chord(to)) {
            (Some(from), Some(to)) => lead_in(from, to, steps, self.song.key),
            _ => Vec::new(),
        }
    }
}

/// The pitch class of a degree of the chord: of the sixth where it may be added, else `None`.
fn class_of(chord: &Chord, degree: Degree, key: Key) -> Option<u8> {
    match degree {
        Degree::Sixth => added_sixth(chord, key),
        _ => {
            let above = i32::from(chord.root.pitch_class()) + interval(chord, degree, key);
            Some(above.rem_euclid(12) as u8)
        }
    }
}
