//! From what each bar asks for to what the hands do.

use std::collections::{HashMap, HashSet};

use super::bars::{BarPlan, is_bass};
use super::figure::{Figure, FigureNote};
use super::lick::{LickNote, LickSlot};
use super::shift::within_reach;
use super::stance::{Kind, Stance, Stances};
use crate::arrange::{Arrangement, ChordId};
use crate::perform::{Act, BanjoDoes, BanjoDrafts, BanjoStep, Cue, Ends, Held, Slur, banjo_cues};
use crate::style::{BanjoStrings, BassNote, Degree, Loud, Pattern, Strike, Stroke};
use crate::theory::added_sixth;
use crate::theory::fretboard::banjo::{Finger, Hit, Pluck, Plucks, VampShape, Way, pinch};
use crate::time::{Meter, Ticks};

/// A part worked out: what is planned for each bar, and what the hands do.
pub(super) struct Planned {
    pub bars: Vec<BarPlan>,
    pub stances: Stances,
    pub figures: Vec<Figure>,
    pub steps: Vec<BanjoStep>,
}

/// The hands' way through a song with the bars it is led back to, and through the figures that take the patterns'
/// place. Slots that `before` plays just so stay as they are there: what was learned stays under the fingers.
pub(super) fn plan(
    song: &Arrangement,
    bars: Vec<BarPlan>,
    stances: Stances,
    figures: Vec<Figure>,
    capo: u8,
    before: Option<&Planned>,
) -> Planned {
    let patterns: Vec<Pattern> = bars.iter().map(|bar| bar.pattern.clone()).collect();
    let mut planner = Planner {
        song,
        capo,
        stances: &stances,
        drafts: BanjoDrafts::default(),
        places: Vec::new(),
        tune: HashSet::new(),
        holding: None,
        strings: [None; 6],
        displaced: None,
        arrived: None,
        boom: None,
    };
    let mut notes = figures.iter().flat_map(|figure| &figure.notes).collect::<Vec<_>>();
    notes.sort_by_key(|note| note.at);
    let mut notes = notes.into_iter().peekable();
    let mut moving = figures.iter().peekable();
    banjo_cues(song, &patterns, |cue| {
        while let Some(note) = notes.next_if(|note| note.at < cue.at) {
            planner.figure(note);
        }
        // Figures stand by time, and one that has arrived is over.
        while moving.next_if(|figure| figure.is_over(cue.at)).is_some() {}
        let covered = moving.clone().take(2).any(|figure| figure.covers(cue.at));
        let leads = moving.peek().is_some_and(|figure| figure.leads && figure.covers(cue.at));
        match cue.act {
            Act::Hit | Act::Damp if leads => {}
            Act::Strike(strike) if covered => planner.displaced = Some((cue.at, strike.strings)),
            Act::Walk { .. } | Act::Hit if covered => {}
            Act::Damp if covered && notes.peek().is_some_and(|note| note.at == cue.at) => {}
            _ => planner.act(cue),
        }
    });
    notes.for_each(|note| planner.figure(note));
    let Planner { mut drafts, places, tune, .. } = planner;
    if let Some(before) = before {
        keep(song, (&bars, &stances, &figures), before, &places, &mut drafts);
    }
    within_reach(song.pace, drafts.moments(), &tune);
    let steps = drafts.finish(capo);
    Planned { bars, stances, figures, steps }
}

/// Leaves the hands no other way than the one they took before, where nothing else is asked for: neither in the
/// slot nor in the ones beside it.
fn keep(
    song: &Arrangement,
    (bars, stances, figures): (&[BarPlan], &Stances, &[Figure]),
    before: &Planned,
    places: &[u32],
    drafts: &mut BanjoDrafts,
) {
    let still: Vec<bool> =
        (0..bars.len()).map(|bar| stances.same(&before.stances, song, bar)).collect();
    let figured = Figured::new(figures, &before.figures);
    let is_same = |index: usize, at: Ticks| {
        let (Some(new), Some(old)) = (bars.get(index), before.bars.get(index)) else {
            return false;
        };
        let start = song.bars.get(index).map_or(at, |bar| bar.start);
        let slot = (at - start).get() / new.pattern.slot.get().max(1);
        if figured.differs(at, new.pattern.slot) {
            return false;
        }
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

/// Where two plans leave the pattern.
struct Figured<'a> {
    new: Vec<(Ticks, &'a FigureNote)>,
    old: Vec<(Ticks, &'a FigureNote)>,
}

impl<'a> Figured<'a> {
    fn new(new: &'a [Figure], old: &'a [Figure]) -> Self {
        let notes = |figures: &'a [Figure]| {
            let mut notes: Vec<(Ticks, &FigureNote)> =
                figures.iter().flat_map(|f| &f.notes).map(|note| (note.at, note)).collect();
            notes.sort_by_key(|(at, _)| *at);
            notes
        };
        Self { new: notes(new), old: notes(old) }
    }

    /// True if not the same is played within a step of a place.
    fn differs(&self, at: Ticks, step: Ticks) -> bool {
        let near = |notes: &[(Ticks, &'a FigureNote)]| -> Vec<&'a FigureNote> {
            let first = notes.partition_point(|(other, _)| *other < at - step);
            let last = notes.partition_point(|(other, _)| *other <= at + step);
            notes.get(first..last).unwrap_or_default().iter().map(|(_, note)| *note).collect()
        };
        near(&self.new) != near(&self.old)
    }
}

struct Planner<'a> {
    song: &'a Arrangement,
    capo: u8,
    stances: &'a Stances,
    drafts: BanjoDrafts,
    /// The bar of each moment.
    places: Vec<u32>,
    /// The times of those that belong to a break.
    tune: HashSet<i64>,
    /// What the left hand holds.
    holding: Option<Stance>,
    /// The fret that each string of a figure has last had, by its number.
    strings: [Option<u8>; 6],
    /// What a pattern would have picked where a figure last took its place, and when.
    displaced: Option<(Ticks, BanjoStrings)>,
    /// The string on which a figure last arrived, and when.
    arrived: Option<(Ticks, u8)>,
    /// When the thumb last had a bass note.
    boom: Option<Ticks>,
}

impl Planner<'_> {
    fn act(&mut self, cue: Cue) {
        let id = self.song.spans.get(cue.span).and_then(|span| span.chord);
        let stance = self.stances.of(self.song, cue.bar as usize, cue.span).copied();
        match (cue.act, id.zip(stance)) {
            (Act::Damp, _) => self.drafts.damp(cue),
            (Act::Again, _) => self.drafts.again(cue),
            (_, None) => {}
            (Act::Change, Some((_, stance))) => {
                self.holding = Some(stance);
                self.drafts.hold(cue, Held::hand(&stance.hand));
            }
            (Act::Strike(strike) | Act::Walk { strike, .. }, Some((id, stance))) => {
                self.strike(cue, strike, id, stance);
            }
            (Act::Hit, Some((_, stance))) => self.together(cue, stance, Ends::Choked),
            (Act::FinalHit, Some((_, stance))) => self.together(cue, stance, Ends::Last),
        }
    }

    /// A step of a figure.
    fn figure(&mut self, note: &FigureNote) {
        let in_six = self.song.bars.get(note.bar).is_some_and(|bar| bar.gait == Meter::SixEight);
        let cue = |at| {
            let mut cue = Cue::new(at, note.bar as u32, note.span, Act::Damp);
            cue.even = in_six;
            cue
        };
        let (notes, loud, choked) = match &note.slot {
            LickSlot::Ring => return,
            LickSlot::Rest => return self.drafts.damp(cue(note.at)),
            LickSlot::Notes { notes, loud, choked } => (notes, *loud, *choked),
        };
        let stance = self.stances.of(self.song, note.bar, note.span).copied();
        let held = stance.map_or_else(Held::default, |stance| Held::hand(&stance.hand));
        if let ([one], true) = (notes.as_slice(), note.arrives) {
            self.arrived = Some((note.at, one.string));
        }
        let picked: Vec<&LickNote> = notes.iter().filter(|note| note.finger.is_some()).collect();
        if !picked.is_empty() {
            let ends = if choked { Ends::Vamped } else { Ends::Rings };
            self.places.push(note.bar as u32);
            let ways = if note.tune {
                self.tune.insert(note.at.get());
                as_written(&picked)
            } else {
                ways(&picked)
            };
            self.drafts.pick(cue(note.at), held, ways, (loud, ends));
        }
        for one in notes {
            let Some((kind, to)) = one.slur else { continue };
            let Some(string) = self.strings.get(usize::from(one.string)).copied() else { continue };
            let (from, at) = match one.finger {
                Some(_) => (one.fret, note.at + Ticks::new(note.length.get() / 2)),
                None => (string.unwrap_or(one.fret), note.at),
            };
            self.drafts.slur(cue(at), one.string, to, Slur { kind, from }, loud);
        }
        for one in notes {
            if let Some(string) = self.strings.get_mut(usize::from(one.string)) {
                *string = Some(one.ends_at());
            }
        }
    }

    fn strike(&mut self, cue: Cue, strike: Strike, id: ChordId, stance: Stance) {
        let hand = &stance.hand;
        let strings = self.in_turn(cue.at, strike);
        let numbers = strings.iter();
        let (ways, ends) = match strike.stroke {
            Some(Stroke::Chop) if stance.kind == Kind::Vamp => {
                let shape = VampShape { frets: hand.shape().frets, capo: self.capo, cost: 0 };
                (shape.pinch(Hit::Groove), Ends::Vamped)
            }
            Some(Stroke::Chop) => (pinch(hand, Hit::Groove), Ends::Vamped),
            _ => {
                let Some(class) = self.class(strike, id) else {
                    let mut ways = hand.strings(numbers);
                    // Where the thumb has just had that string, the first one will do.
                    let after = self.boom.is_some_and(|boom| cue.at - boom <= Ticks::EIGHTH);
                    if after && strings.iter().eq([2]) {
                        let first = hand.strings([1].into_iter()).into_iter();
                        let first = first.filter(|way| !way.plucks.is_empty());
                        ways.extend(first.map(|way| Way { cost: way.cost + INSTEAD, ..way }));
                    }
                    return self.pick(cue, stance, ways, (strike.loud, Ends::Rings));
                };
                let ways = if is_bass(strike) {
                    self.boom = Some(cue.at);
                    hand.bass_and_strings(class, numbers)
                } else {
                    let mut ways = hand.note_and_strings(class, false, numbers);
                    // Where the thumb and the index finger would have to cross for it, the first string will do.
                    let first = hand.strings([1].into_iter()).into_iter();
                    let first = first.filter(|way| !way.plucks.is_empty());
                    ways.extend(first.map(|way| Way { cost: way.cost + RATHER, ..way }));
                    ways
                };
                (ways, Ends::Rings)
            }
        };
        self.pick(cue, stance, ways, (strike.loud, ends));
    }

    /// The strings of a strike. One on which a figure has just arrived is not picked again at once: it changes places
    /// with the one that the figure took the place of.
    fn in_turn(&self, at: Ticks, strike: Strike) -> BanjoStrings {
        let own = strike.strings;
        let (Some((when, string)), Some((then, displaced))) = (self.arrived, self.displaced) else {
            return own;
        };
        let again = when == then && at - when <= Ticks::EIGHTH && own.iter().eq([string]);
        let swaps =
            strike.bass.is_none() && strike.stroke.is_none() && displaced.iter().count() == 1;
        if again && swaps { displaced } else { own }
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
}

/// What it costs to pick the first string where the sixth was meant: less than to cross thumb and index finger.
const RATHER: u32 = 5;

/// What it costs to pick another string than the pattern's: less than to pick one twice in a row.
const INSTEAD: u32 = 0;

/// What it costs to pick a note of a figure with another finger than the lick has; to leave it out costs more than
/// all that stands beside it.
const OTHER: u32 = 6;
/// See [`OTHER`].
const LEFT_OUT: u32 = 400;

/// The one way to pick the notes of a figure just as they are written.
fn as_written(notes: &[&LickNote]) -> Vec<Way> {
    let together = notes.iter().try_fold(Plucks::NONE, |plucks, note| {
        let finger = note.finger.unwrap_or(Finger::Thumb);
        plucks.with(Pluck { string: note.string, fret: note.fret, finger })
    });
    together.map(|plucks| Way { plucks, cost: 0, leads: None }).into_iter().collect()
}

/// The ways to pick the notes of a figure: as they are written, or with a free finger.
fn ways(notes: &[&LickNote]) -> Vec<Way> {
    let way = |plucks, cost| Way { plucks, cost, leads: None };
    let pluck = |note: &LickNote, finger| Pluck { string: note.string, fret: note.fret, finger };
    let mut ways = as_written(notes);
    if let [one] = notes {
        for finger in Finger::ALL.into_iter().filter(|finger| Some(*finger) != one.finger) {
            let Some(effort) = finger.effort(one.string) else { continue };
            let plucks = Plucks::NONE.with(pluck(one, finger));
            ways.extend(plucks.map(|plucks| way(plucks, OTHER + effort)));
        }
    }
    ways.sort_by_key(|way| way.cost);
    ways.push(way(Plucks::NONE, LEFT_OUT));
    ways
}
