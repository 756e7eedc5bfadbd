//! The rhythm of a made-up break as each instrument has it: the style's bars, filled out or thinned by the hand that
//! plays them, in phrases of two bars and of four.

use std::collections::HashMap;

use super::hand::{Hand, step, strong};
use super::leader::Leader;
use super::slot::{Slot, What};
use crate::arrange::{Arrangement, Bar, BarKind};
use crate::chart::{Lead, Role};
use crate::style::Loud;
use crate::time::{Meter, Ticks};

/// What a step of a bar has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cell {
    Note(Loud),
    Holds,
    Rests,
}

/// The fastest that a pick goes through a line, in notes a second (common practice, no source: as the guitar's row).
const FASTEST: f64 = 9.5;

/// Of a hundred places where a hand may do otherwise than the style's bar, in so many it does (common practice, no
/// source).
mod share {
    /// A fiddle's second quarter of two that becomes two eighths, and its half note that becomes a shuffle.
    pub const SHUFFLED: u64 = 55;
    /// A mandolin's last bar of a line that becomes long notes, which it has tremolo for.
    pub const LONG: u64 = 60;
    /// A guitar's open place between two notes that is left.
    pub const LEFT: u64 = 10;
    /// A resonator's backbeat that stays, and its note off the beat.
    pub const BACK: u64 = 60;
    pub const OFF: u64 = 18;
    /// A bass's note off the beat that stays where it leads into a strong one.
    pub const SKIP: u64 = 25;
}

/// The slots of all made-up bars as their leaders have them.
pub(super) fn reshape(song: &Arrangement, seed: u64, slots: &[Slot]) -> Vec<Slot> {
    let mut shaper = Shaper { song, seed, motifs: HashMap::new(), sounding: false };
    let bars = slots.chunk_by(|one, next| one.bar == next.bar);
    bars.flat_map(|own| shaper.bar(own)).collect()
}

struct Shaper<'a> {
    song: &'a Arrangement,
    seed: u64,
    /// The rhythm that the first bar of four has, by pass, line and which four.
    motifs: HashMap<(usize, usize, usize), Vec<Cell>>,
    sounding: bool,
}

impl Shaper<'_> {
    fn bar(&mut self, own: &[Slot]) -> Vec<Slot> {
        let shaped = self.shaped(own);
        let slots = shaped.unwrap_or_else(|| own.to_vec());
        for slot in &slots {
            self.sounding = match slot.what {
                What::Rest => false,
                what => what.is_struck() || self.sounding,
            };
        }
        slots
    }

    fn shaped(&mut self, own: &[Slot]) -> Option<Vec<Slot>> {
        let number = own.first()?.bar;
        let bar = self.song.bars.get(number as usize)?;
        let leader = Leader::in_bar(self.song, bar);
        let hand = Hand { song: self.song, seed: self.seed, leader: &leader };
        if !is_plain(self.song, bar, own) {
            return None;
        }
        let mut cells = cells(self.song, bar, own)?;
        self.phrase(bar, &mut cells);
        let fast = 1000.0 / hand.millis(step(self.song, bar)) > FASTEST;
        let shape = Shape { hand, bar, number, sounding: self.sounding };
        match leader.lead {
            Some(Lead::Fiddle) if !fast => shape.shuffles(&mut cells),
            Some(Lead::Mandolin) => shape.long(&mut cells),
            Some(Lead::Guitar) if !fast => shape.stream(&mut cells),
            Some(Lead::Resonator) => shape.slow(&mut cells),
            Some(Lead::Banjo) => shape.beats(&mut cells),
            Some(Lead::Bass) => shape.walk(&mut cells),
            Some(Lead::Voice | Lead::Fiddle | Lead::Guitar) | None => {}
        }
        self.leave_room(bar, number, &mut cells);
        Some(slots(self.song, bar, own, &cells))
    }

    /// The third bar of four begins as the first did; the second ends with a breath.
    fn phrase(&mut self, bar: &Bar, cells: &mut Vec<Cell>) {
        let four = (bar.pass, bar.line, bar.turn / 4);
        match bar.turn % 4 {
            0 => {
                self.motifs.insert(four, cells.clone());
            }
            1 if !bar.facts.phrase_end => {
                if let Some(last) = cells.last_mut()
                    && *last == Cell::Holds
                {
                    *last = Cell::Rests;
                }
            }
            2 if !bar.facts.phrase_end => {
                if let Some(motif) = self.motifs.get(&four).filter(|it| it.len() == cells.len()) {
                    cells.clone_from(motif);
                }
            }
            _ => {}
        }
    }

    /// The last bar before a singer comes is theirs from its last quarter on, of 2/4 from its last eighth.
    fn leave_room(&self, bar: &Bar, number: u32, cells: &mut [Cell]) {
        let next = self.song.bars.get(number as usize + 1);
        let comes = next.and_then(|next| self.song.passes.get(next.pass)?.lead);
        if !bar.facts.last_bar || comes != Some(Lead::Voice) {
            return;
        }
        let count = cells.len();
        let half = if bar.gait == Meter::ThreeFour { count / 3 } else { count / 2 };
        for cell in cells.iter_mut().skip(half + 1) {
            *cell = Cell::Holds;
        }
        if let Some(rest) = cells.get_mut(count - count.div_ceil(4)) {
            *rest = Cell::Rests;
        }
    }
}

/// True for a bar that the style's own notes fill, with a chord all through.
fn is_plain(song: &Arrangement, bar: &Bar, own: &[Slot]) -> bool {
    let spans = song.spans.get(bar.spans.clone()).unwrap_or_default();
    let plain = |what| matches!(what, What::Note(_) | What::Rest | What::Change);
    bar.kind == BarKind::Groove
        && bar.stops.is_empty()
        && spans.iter().all(|span| span.chord.is_some())
        && own.iter().all(|slot| plain(slot.what))
}

/// The steps of a bar; `None` if it is written on another grid.
fn cells(song: &Arrangement, bar: &Bar, own: &[Slot]) -> Option<Vec<Cell>> {
    let step = step(song, bar);
    let count = usize::try_from(bar.meter.bar().get() / step.get()).ok()?;
    let mut cells = vec![Cell::Holds; count];
    for slot in own {
        let cell = match slot.what {
            What::Note(loud) => Cell::Note(loud),
            What::Rest => Cell::Rests,
            _ => continue,
        };
        let place = slot.at - bar.start;
        let at = usize::try_from(place.get() / step.get()).ok()?;
        if !place.is_multiple_of(step) {
            return None;
        }
        *cells.get_mut(at)? = cell;
    }
    Some(cells)
}

/// The slots of a bar by its steps, with the changes of chord as they were.
fn slots(song: &Arrangement, bar: &Bar, own: &[Slot], cells: &[Cell]) -> Vec<Slot> {
    let Some(&first) = own.first() else { return Vec::new() };
    let step = step(song, bar);
    let even = bar.gait == Meter::SixEight;
    let mut out: Vec<Slot> = own.iter().copied().filter(|slot| slot.what == What::Change).collect();
    for (place, cell) in (0..).zip(cells) {
        let at = bar.start + step * place;
        let what = match cell {
            Cell::Note(loud) => What::Note(*loud),
            Cell::Rests => What::Rest,
            Cell::Holds => continue,
        };
        let mut spans = bar.spans.clone();
        let begun = |span: &usize| song.spans.get(*span).is_some_and(|span| span.start <= at);
        let span = spans.rfind(begun).unwrap_or(bar.spans.start);
        out.push(Slot { at, even, span, what, ..first });
    }
    // A change comes before what is struck at it.
    out.sort_by_key(|slot| (slot.at, slot.what.is_struck()));
    out
}

/// A bar under the hand that plays it.
struct Shape<'a> {
    hand: Hand<'a>,
    bar: &'a Bar,
    number: u32,
    sounding: bool,
}

impl Shape<'_> {
    fn at(&self, place: usize) -> Ticks {
        self.bar.start + self.hand.step(self.number) * place as i64
    }

    fn is_on(&self, place: usize, unit: Ticks) -> bool {
        (self.at(place) - self.bar.start).is_multiple_of(unit)
    }

    fn is_beat(&self, place: usize) -> bool {
        self.is_on(place, self.hand.beat(self.number))
    }

    fn is_strong(&self, place: usize) -> bool {
        self.is_on(place, strong(self.bar.gait))
    }

    fn throw(&self, what: u64, place: usize) -> u64 {
        self.hand.dice(what, self.number, self.at(place))
    }

    /// True if nothing follows in the bar before it rests, or in the last bar of a line before its end.
    fn is_last(&self, cells: &[Cell], place: usize) -> bool {
        let after = cells.iter().skip(place + 1).find(|cell| **cell != Cell::Holds);
        match after {
            Some(Cell::Rests) => true,
            Some(_) => false,
            None => self.bar.facts.phrase_end,
        }
    }

    /// Long, short, short: the bow's own way through a half note (common practice, no source).
    fn shuffles(&self, cells: &mut [Cell]) {
        if self.hand.beat(self.number) != self.hand.step(self.number) * 2 {
            return;
        }
        for place in 0..cells.len() {
            let long = matches!(cells.get(place), Some(Cell::Note(_)));
            let held = |far: usize| cells.get(place + far) == Some(&Cell::Holds);
            if !long || !self.is_strong(place) || !held(1) || !held(3) {
                continue;
            }
            if self.is_last(cells, place) || self.throw(1, place) >= share::SHUFFLED {
                continue;
            }
            for far in [2, 3] {
                if let Some(cell) = cells.get_mut(place + far)
                    && *cell == Cell::Holds
                {
                    *cell = Cell::Note(Loud::Normal);
                }
            }
        }
    }

    /// The second bar of four in long notes, and the last one now and then.
    fn long(&self, cells: &mut [Cell]) {
        let last = self.bar.facts.phrase_end && self.throw(2, 0) < share::LONG;
        if self.bar.turn % 4 != 1 && !last {
            return;
        }
        for place in 0..cells.len() {
            if !self.is_strong(place)
                && let Some(cell @ Cell::Note(_)) = cells.get_mut(place)
            {
                *cell = Cell::Holds;
            }
        }
    }

    /// Every step, from the first note of a phrase to its last.
    fn stream(&self, cells: &mut [Cell]) {
        let mut sounding = self.sounding && !self.bar.facts.phrase_start;
        for place in 0..cells.len() {
            match cells.get(place) {
                Some(Cell::Note(_)) => sounding = !self.is_last(cells, place),
                Some(Cell::Rests) => sounding = false,
                Some(Cell::Holds) if sounding && self.throw(3, place) >= share::LEFT => {
                    if let Some(cell) = cells.get_mut(place) {
                        *cell = Cell::Note(Loud::Normal);
                    }
                }
                _ => {}
            }
        }
    }

    /// The strong beats, some of the others, and what leads in after a rest.
    fn slow(&self, cells: &mut [Cell]) {
        let mut rested = !self.sounding;
        for place in 0..cells.len() {
            let Some(cell) = cells.get(place).copied() else { continue };
            let stays = match cell {
                Cell::Rests => {
                    rested = true;
                    continue;
                }
                Cell::Holds => continue,
                Cell::Note(_) if self.is_strong(place) || rested => true,
                Cell::Note(_) if self.is_beat(place) => self.throw(4, place) < share::BACK,
                Cell::Note(_) => self.throw(4, place) < share::OFF,
            };
            rested = false;
            if !stays && let Some(cell) = cells.get_mut(place) {
                *cell = Cell::Holds;
            }
        }
    }

    /// The beats alone: what lies between is the roll's.
    fn beats(&self, cells: &mut [Cell]) {
        for place in 0..cells.len() {
            let strong = self.is_strong(place) && self.throw(6, place) >= share::LEFT;
            if let Some(cell) = cells.get_mut(place) {
                match cell {
                    Cell::Note(_) if !self.is_beat(place) => *cell = Cell::Holds,
                    Cell::Holds if strong => *cell = Cell::Note(Loud::Normal),
                    _ => {}
                }
            }
        }
    }

    /// Every beat, and now and then a skip into a strong one; where that is too fast for a finger the strong ones.
    fn walk(&self, cells: &mut [Cell]) {
        let beat = self.hand.millis(self.hand.beat(self.number));
        let fast = 1000.0 / beat > Role::Bass.row().playing.steps_a_second;
        let mut sounding = true;
        for place in 0..cells.len() {
            let Some(cell) = cells.get(place).copied() else { continue };
            let now = match cell {
                Cell::Rests => {
                    sounding = false;
                    continue;
                }
                _ if fast && !self.is_strong(place) => Cell::Holds,
                Cell::Note(loud) if self.is_beat(place) => Cell::Note(loud),
                Cell::Holds if self.is_beat(place) && sounding => Cell::Note(Loud::Normal),
                Cell::Note(_)
                    if self.is_strong(place + 1) && self.throw(5, place) < share::SKIP =>
                {
                    Cell::Note(Loud::Ghost)
                }
                _ => Cell::Holds,
            };
            sounding = sounding || matches!(now, Cell::Note(_));
            if let Some(cell) = cells.get_mut(place) {
                *cell = now;
            }
        }
    }
}
