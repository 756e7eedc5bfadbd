//! Strokes: what a hand strikes at once, and the place of the grid that it is meant for.

use openchair::chart::Role;
use openchair::perform::{Note, SLOWEST_STRUM};

use super::take::Take;

/// Places and leans are each rounded to whole ticks.
pub const ROUNDING: f64 = 2.0;

#[derive(Clone, Debug)]
pub struct Stroke {
    /// Its place on the even grid, in ticks.
    pub at: i64,
    /// How far it lies after where swing and the part's lean put that place, in ticks.
    pub off: f64,
    /// Half the way from its place to the nearest other: further off, it would be taken for that.
    pub room: f64,
    /// Its bar, in the sheet's bars.
    pub bar: usize,
    /// In the order in which they are struck. Never empty.
    pub notes: Vec<Note>,
}

/// How the hand goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// One note.
    Single,
    /// From the low strings to the high.
    Down,
    /// From the high strings to the low.
    Up,
}

impl Stroke {
    /// When its first note is struck.
    pub fn start(&self) -> i64 {
        self.notes[0].start.get()
    }

    /// When its last note is struck.
    pub fn last_start(&self) -> i64 {
        self.notes[self.notes.len() - 1].start.get()
    }

    pub fn lowest(&self) -> u8 {
        self.notes.iter().map(|note| note.pitch.get()).min().unwrap()
    }

    pub fn pitches(&self) -> Vec<u8> {
        let mut pitches: Vec<u8> = self.notes.iter().map(|note| note.pitch.get()).collect();
        pitches.sort_unstable();
        pitches
    }

    pub fn way(&self) -> Way {
        match self.notes[..] {
            [_] => Way::Single,
            [first, .., last] if first.pitch > last.pitch => Way::Up,
            _ => Way::Down,
        }
    }

    /// Of its loudest note.
    pub fn velocity(&self) -> u8 {
        self.notes.iter().map(|note| note.velocity).max().unwrap()
    }
}

/// The notes of a role as strokes: what lies no further apart than the style's `spread` is one.
pub fn strokes(take: &Take, role: Role, notes: &[Note]) -> Vec<Stroke> {
    let part = take.style_of(role);
    let spread = take.ticks(SLOWEST_STRUM * part.spread) + ROUNDING;
    let mut together: Vec<Vec<Note>> = Vec::new();
    for note in notes {
        match together.last_mut() {
            Some(stroke)
                if ((note.start - stroke[0].start).get() as f64) <= spread
                    && note.bar == stroke[0].bar =>
            {
                stroke.push(*note);
            }
            _ => together.push(vec![*note]),
        }
    }
    let lean = take.ticks(part.lean);
    let mut grids = Grids::new(take, role);
    let stroke = |notes: Vec<Note>| {
        let bar = notes[0].bar as usize;
        let start = notes[0].start.get() as f64;
        let (at, off, room) = grids.nearest(bar, lean, start);
        Stroke { at, off, room, bar, notes }
    };
    together.into_iter().map(stroke).collect()
}

/// The places of a bar: those that the style's own bars are written on, the eighths on which chords and
/// stops begin, and sixteenths; triplets, which do not swing, where the style has any.
struct Grids<'a> {
    take: &'a Take,
    unit: i64,
    triplet: Option<i64>,
    /// The bar that is laid out, and its places: where swing puts them and where they are written.
    laid: Option<usize>,
    places: Vec<(f64, i64)>,
}

impl<'a> Grids<'a> {
    fn new(take: &'a Take, role: Role) -> Self {
        let part = take.style_of(role);
        let is_triplet = |slot: &i64| 960 % slot == 0 && 960 / slot % 3 == 0;
        let slots = || part.bars.iter().map(|bar| bar.slot.get());
        let unit = slots().filter(|slot| !is_triplet(slot)).fold(240, gcd);
        Self { take, unit, triplet: slots().find(is_triplet), laid: None, places: Vec::new() }
    }

    fn lay(&mut self, index: usize) {
        if self.laid == Some(index) {
            return;
        }
        self.laid = Some(index);
        let bar = &self.take.sheet.bars[index];
        let places = |unit: i64| (bar.start.get()..bar.end().get()).step_by(unit as usize);
        self.places.clear();
        self.places.extend(places(self.unit).map(|at| (self.take.swung(at, bar), at)));
        self.places.extend(self.triplet.into_iter().flat_map(places).map(|at| (at as f64, at)));
    }

    /// The place nearest to a start, how far from there the start is, and how far it might be.
    fn nearest(&mut self, bar: usize, lean: f64, start: f64) -> (i64, f64, f64) {
        self.lay(bar);
        let felt = start - lean;
        let apart = |one: &f64, other: f64| (one - other).abs();
        let (place, at) = *self
            .places
            .iter()
            .min_by(|(one, _), (other, _)| apart(one, felt).total_cmp(&apart(other, felt)))
            .unwrap();
        let others = self.places.iter().map(|(other, _)| apart(other, place));
        let room = others.filter(|&gap| gap > 0.5).fold(f64::INFINITY, f64::min) / 2.0;
        // Nothing comes before the song.
        let due = (place + lean).max(self.take.sheet.start.get() as f64);
        (at, start - due, room)
    }
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// A note as it is said, middle C as C4.
pub fn spoken(pitch: u8) -> String {
    const NAMES: [&str; 12] = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    format!("{}{}", NAMES[usize::from(pitch % 12)], i32::from(pitch / 12) - 1)
}

/// Several notes as they are said.
pub fn all_spoken(pitches: &[u8]) -> String {
    pitches.iter().map(|&pitch| spoken(pitch)).collect::<Vec<_>>().join(" ")
}
