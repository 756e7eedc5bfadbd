//! From what each bar asks for to what the hands do.

use std::collections::HashMap;

use super::bars::{BarPlan, is_bass};
use super::fill::fill_notes;
use super::shift::within_reach;
use super::stance::{Kind, Stance, Stances};
use crate::arrange::{Arrangement, ChordId};
use crate::coverage::Job;
use crate::perform::{Act, BanjoDoes, BanjoDrafts, BanjoStep, Cue, Ends, Held, banjo_cues};
use crate::style::{BassNote, Degree, Loud, Pattern, Strike, Stroke};
use crate::theory::fretboard::banjo::{Finger, Hit, Position, VampShape, Way, pinch};
use crate::theory::{MidiNote, added_sixth, lead_in};
use crate::time::Ticks;

/// A part worked out: what is planned for each bar, and what the hands do.
pub(super) struct Planned {
    pub bars: Vec<BarPlan>,
    pub stances: Stances,
    pub steps: Vec<BanjoStep>,
}

/// The hands' way through a song with the bars it is led back to. Slots that `before` plays just so stay as
/// they are there: what was learned stays under the fingers.
pub(super) fn plan(
    song: &Arrangement,
    bars: Vec<BarPlan>,
    stances: Stances,
    capo: u8,
    seed: u64,
    before: Option<&Planned>,
) -> Planned {
    let patterns: Vec<Pattern> = bars.iter().map(|bar| bar.pattern.clone()).collect();
    let mut cues = Vec::new();
    banjo_cues(song, &patterns, |cue| cues.push(cue));
    let fills = fill_places(song, &bars, &stances, capo);
    let notes = fill_notes(song, &cues, &fills, seed);
    let mut planner = Planner {
        song,
        capo,
        stances: &stances,
        fills: &fills,
        drafts: BanjoDrafts::default(),
        places: Vec::new(),
        holding: None,
        line: Vec::new(),
    };
    for (cue, note) in cues.into_iter().zip(notes) {
        planner.act(cue, note);
    }
    let Planner { mut drafts, places, .. } = planner;
    if let Some(before) = before {
        keep(song, &bars, &stances, before, &places, &mut drafts);
    }
    within_reach(song.pace, drafts.moments());
    let steps = drafts.finish(capo);
    Planned { bars, stances, steps }
}

/// Where the hand is for a fill, bar for bar: at the nut, where the open strings are, but up the neck where it stays
/// there, in one place for as long as the fill lasts.
fn fill_places(song: &Arrangement, bars: &[BarPlan], stances: &Stances, capo: u8) -> Vec<Position> {
    let mut places: Vec<Position> = Vec::with_capacity(bars.len());
    let mut before: Option<Job> = None;
    for (index, (plan, bar)) in bars.iter().zip(&song.bars).enumerate() {
        let first = match places.last() {
            Some(last) if plan.job == Job::Fill && before == Some(Job::Fill) => last.first,
            _ if plan.job == Job::Fill && plan.up => {
                stances.of(song, index, bar.spans.start).map_or(1, Stance::position)
            }
            _ => 1,
        };
        places.push(Position { first, capo });
        before = Some(plan.job);
    }
    places
}

/// Leaves the hands no other way than the one they took before, where nothing else is asked for: neither in the
/// slot nor in the ones beside it.
fn keep(
    song: &Arrangement,
    bars: &[BarPlan],
    stances: &Stances,
    before: &Planned,
    places: &[u32],
    drafts: &mut BanjoDrafts,
) {
    let still: Vec<bool> =
        (0..bars.len()).map(|bar| stances.same(&before.stances, song, bar)).collect();
    let is_same = |index: usize, at: Ticks| {
        let (Some(new), Some(old)) = (bars.get(index), before.bars.get(index)) else {
            return false;
        };
        let start = song.bars.get(index).map_or(at, |bar| bar.start);
        let slot = (at - start).get() / new.pattern.slot.get().max(1);
        let beside = slot - 1..=slot + 1;
        let unchanged = |slot: i64| {
            let slot = usize::try_from(slot).unwrap_or(usize::MAX);
            let own = new.pattern.slots.get(slot);
            own.is_some() && own == old.pattern.slots.get(slot)
        };
        still.get(index).is_some_and(|still| *still)
            && (new.pattern == old.pattern || beside.into_iter().all(unchanged))
    };
    let mut played: HashMap<Ticks, Vec<(u8, u8, Option<Finger>)>> = HashMap::new();
    for step in &before.steps {
        if let BanjoDoes::Pick(picks) = &step.does {
            let picks = picks.iter().map(|pick| (pick.string, pick.fret, pick.finger()));
            played.insert(step.at, picks.collect());
        }
    }
    for (bar, moment) in places.iter().zip(drafts.moments()) {
        let kept = is_same(*bar as usize, Ticks::new(moment.at));
        let Some(picks) = played.get(&Ticks::new(moment.at)).filter(|_| kept) else { continue };
        let is_as_before = |way: &Way| {
            let plucks =
                way.plucks.iter().map(|pluck| (pluck.string, pluck.fret, Some(pluck.finger)));
            plucks.eq(picks.iter().copied())
        };
        if moment.ways.iter().any(is_as_before) {
            moment.ways.retain(is_as_before);
        }
    }
}

struct Planner<'a> {
    song: &'a Arrangement,
    capo: u8,
    stances: &'a Stances,
    /// Where the hand is for a fill, bar for bar.
    fills: &'a [Position],
    drafts: BanjoDrafts,
    /// The bar of each moment.
    places: Vec<u32>,
    /// What the left hand holds.
    holding: Option<Stance>,
    /// The notes that lead into the next chord.
    line: Vec<u8>,
}

impl Planner<'_> {
    fn act(&mut self, cue: Cue, note: Option<MidiNote>) {
        let id = self.song.spans.get(cue.span).and_then(|span| span.chord);
        let stance = self.stances.of(self.song, cue.bar as usize, cue.span).copied();
        match (cue.act, id.zip(stance)) {
            (Act::Damp, _) => {
                self.drafts.damp(cue);
            }
            (Act::Again, _) => self.drafts.again(cue),
            (_, None) => {}
            (Act::Change, Some((_, stance))) => {
                self.holding = Some(stance);
                self.drafts.hold(cue, Held::hand(&stance.hand));
            }
            (Act::Strike(strike), Some((id, stance))) => self.strike(cue, strike, id, stance, note),
            (Act::Walk { strike, step, of, to }, Some((id, stance))) => {
                if step == 0 {
                    self.line = self.leading(id, of, to);
                }
                let ways = match self.line.get(step) {
                    Some(class) => {
                        stance.hand.note_and_strings(*class, true, strike.strings.iter())
                    }
                    None => stance.hand.strings(strike.strings.iter()),
                };
                self.pick(cue, stance, ways, (strike.loud, Ends::Rings));
            }
            (Act::Hit, Some((_, stance))) => self.together(cue, stance, Ends::Choked),
            (Act::FinalHit, Some((_, stance))) => self.together(cue, stance, Ends::Last),
        }
    }

    fn strike(
        &mut self,
        cue: Cue,
        strike: Strike,
        id: ChordId,
        stance: Stance,
        note: Option<MidiNote>,
    ) {
        let hand = &stance.hand;
        let numbers = strike.strings.iter();
        let (ways, ends) = match (strike.stroke, note) {
            (Some(Stroke::Chop), _) if stance.kind == Kind::Vamp => {
                let shape = VampShape { frets: hand.shape().frets, capo: self.capo, cost: 0 };
                (shape.pinch(Hit::Groove), Ends::Vamped)
            }
            (Some(Stroke::Chop), _) => (pinch(hand, Hit::Groove), Ends::Vamped),
            (Some(Stroke::Tone), Some(note)) => {
                let place = self.fills.get(cue.bar as usize);
                let place = place.copied().unwrap_or(Position { first: 1, capo: self.capo });
                let how = (strike.loud, Ends::Rings);
                return self.pick(cue, stance, place.note(note), how);
            }
            _ => {
                let Some(class) = self.class(strike, id) else {
                    let ways = hand.strings(numbers);
                    return self.pick(cue, stance, ways, (strike.loud, Ends::Rings));
                };
                let ways = if is_bass(strike) {
                    hand.bass_and_strings(class, numbers)
                } else {
                    hand.note_and_strings(class, false, numbers)
                };
                (ways, Ends::Rings)
            }
        };
        self.pick(cue, stance, ways, (strike.loud, ends));
    }

    /// The pitch class that is asked for by its degree; `None` if none is.
    fn class(&self, strike: Strike, id: ChordId) -> Option<u8> {
        let chord = self.song.chord(id)?;
        let root = chord.root.pitch_class();
        Some(match strike.bass? {
            BassNote::Degree { degree: Degree::Sixth, .. } => {
                added_sixth(chord, self.song.key).unwrap_or(root)
            }
            BassNote::Degree { degree: Degree::Fifth, .. } => {
                (root + chord.quality.fifth().unwrap_or(0)) % 12
            }
            _ => root,
        })
    }

    fn together(&mut self, cue: Cue, stance: Stance, ends: Ends) {
        let ways = pinch(&stance.hand, Hit::Together);
        self.pick(cue, stance, ways, (Loud::Accent, ends));
    }

    fn pick(&mut self, cue: Cue, stance: Stance, ways: Vec<Way>, how: (Loud, Ends)) {
        // The hand takes up another place on the neck for the same chord.
        if self.holding != Some(stance) {
            self.holding = Some(stance);
            self.drafts.hold(cue, Held::hand(&stance.hand));
        }
        self.places.push(cue.bar);
        self.drafts.pick(cue, Held::hand(&stance.hand), ways, how);
    }

    fn leading(&self, from: ChordId, steps: usize, to: ChordId) -> Vec<u8> {
        match (self.song.chord(from), self.song.chord(to)) {
            (Some(from), Some(to)) => lead_in(from, to, steps, self.song.key),
            _ => Vec::new(),
        }
    }
}
