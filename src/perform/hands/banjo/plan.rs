//! What the hands do, before it is placed in time: the chart's chords as shapes, the pattern's slots as
//! strings, frets and fingers.

use super::Ends;
use super::drafts::BanjoDrafts;
use super::step::{BanjoStep, Held};
use crate::arrange::{Arrangement, ChordId};
use crate::perform::choice::Seat;
use crate::perform::cue::{Act, Cue};
use crate::perform::cues::cues;
use crate::perform::degree::interval;
use crate::style::{BassNote, Degree, Loud, Strike, Stroke};
use crate::theory::fretboard::banjo::{
    BanjoHand, Hit, VampShape, choose_banjo_capo, pinch, vamp_shapes,
};
use crate::theory::fretboard::least_movement;
use crate::theory::{Chord, Key, added_sixth, lead_in};

/// All that the hands do in a song with the bars that show how its last notes ring.
pub(super) fn plan(seat: &Seat<'_>) -> Vec<BanjoStep> {
    let song = seat.song;
    let capo = choose_banjo_capo(song.key);
    let hands: Vec<BanjoHand> =
        song.chords.iter().map(|chord| BanjoHand::new(chord, capo, song.drone)).collect();
    let mut planner = Planner {
        song,
        hands: &hands,
        vamps: vamps(song, capo),
        drafts: BanjoDrafts::default(),
        line: Vec::new(),
    };
    cues(seat, |cue| planner.act(cue));
    planner.drafts.finish(capo)
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

struct Planner<'a> {
    song: &'a Arrangement,
    hands: &'a [BanjoHand],
    vamps: Vec<Option<VampShape>>,
    drafts: BanjoDrafts,
    /// The notes that lead into the next chord.
    line: Vec<u8>,
}

impl Planner<'_> {
    fn act(&mut self, cue: Cue) {
        let id = self.song.spans.get(cue.span).and_then(|span| span.chord);
        match (cue.act, id) {
            (Act::Damp, _) => self.drafts.damp(cue),
            (Act::Again, _) => self.drafts.again(cue),
            (_, None) => {}
            (Act::Change, Some(id)) => {
                if let Some(hand) = self.hands.get(id.0 as usize) {
                    self.drafts.hold(cue, Held::hand(hand));
                }
            }
            (Act::Strike(strike), Some(id)) => self.strike(cue, strike, id),
            (Act::Walk { strike, step, of, to }, Some(id)) => {
                if step == 0 {
                    self.line = self.leading(id, of, to);
                }
                let class = self.line.get(step).copied();
                self.note(cue, strike, id, class, class.is_some());
            }
            (Act::Hit, Some(id)) => self.together(cue, id, Ends::Choked),
            (Act::FinalHit, Some(id)) => self.together(cue, id, Ends::Last),
        }
    }

    fn strike(&mut self, cue: Cue, strike: Strike, id: ChordId) {
        if strike.stroke == Some(Stroke::Chop) {
            if let Some(shape) = self.vamps.get(cue.span).copied().flatten() {
                let ways = shape.pinch(Hit::Groove);
                self.drafts.pick(cue, Held::default(), ways, (strike.loud, Ends::Vamped));
            }
            return;
        }
        let Some(note) = strike.bass else {
            if let Some(hand) = self.hands.get(id.0 as usize) {
                let ways = hand.strings(strike.strings.iter());
                self.drafts.pick(cue, Held::hand(hand), ways, (strike.loud, Ends::Rings));
            }
            return;
        };
        // A walk comes here where there is nowhere to lead to.
        let class = match (note, self.song.chord(id)) {
            (BassNote::Degree { degree, .. }, Some(chord)) => {
                class_of(chord, degree, self.song.key)
            }
            _ => None,
        };
        self.note(cue, strike, id, class, false);
    }

    /// A note beside the chord and what is picked with it; the root if there is no such note.
    fn note(&mut self, cue: Cue, strike: Strike, id: ChordId, class: Option<u8>, leads: bool) {
        let (Some(chord), Some(hand)) = (self.song.chord(id), self.hands.get(id.0 as usize)) else {
            return;
        };
        let class = class.unwrap_or(chord.root.pitch_class());
        let ways = hand.note_and_strings(class, leads, strike.strings.iter());
        self.drafts.pick(cue, Held::hand(hand), ways, (strike.loud, Ends::Rings));
    }

    fn together(&mut self, cue: Cue, id: ChordId, ends: Ends) {
        if let Some(hand) = self.hands.get(id.0 as usize) {
            let ways = pinch(hand, Hit::Together);
            self.drafts.pick(cue, Held::hand(hand), ways, (Loud::Accent, ends));
        }
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
