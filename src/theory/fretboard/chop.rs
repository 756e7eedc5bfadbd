use super::reach::{self, Reach};
use super::shape::{Shape, movement};
use super::{Frets, Tuning, class_bits, has_unison, heard_bits};
use crate::theory::{Chord, MidiNote};

/// The mandolin, G3 D4 A4 E5. Twenty frets is from memory: instruments with more are common.
///
/// Five frets from the second on are 80 mm on its scale of about 356 mm (14 in), less than the 97 mm
/// of a guitar's three lowest (646 mm × (2^(−1/12) − 2^(−4/12))), and the best known chop in G spans
/// them.
pub const MANDOLIN: Tuning<4> = Tuning {
    open: [55, 62, 69, 76],
    frets: 20,
    reach: Reach { anywhere: 4, higher: 5, higher_from: 2 },
};

/// The highest fret of a chop: above it the strings are too short to bark.
const HIGHEST: u8 = 12;

/// So many of a triad hold those that everybody plays. Seventh chords have up to 63; leaving out those that lie worst
/// keeps the search for the way through a chart short.
const MOST: usize = 16;

/// Where a chop lies best: on the first fret the strings are stiff, above the ninth they are thin.
const COMFORTABLE: std::ops::RangeInclusive<u8> = 2..=9;

/// A closed mandolin chord for chopping: three or four strings side by side, every one stopped, so
/// that lifting the hand silences all of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct ChopShape {
    /// For each string, G first, its fret, 1 to 12; `None` not struck.
    pub frets: Frets<4>,
    /// How ill it lies and sounds by itself; 0 could not be better. One is about a fret of hand
    /// movement.
    pub cost: u32,
}

impl ChopShape {
    /// What each string sounds, G first.
    pub fn notes(&self) -> [Option<MidiNote>; 4] {
        MANDOLIN.notes(&self.frets, 0)
    }

    /// Where the hand is: the lowest fret stopped.
    pub fn position(&self) -> u8 {
        reach::stopped_range(&self.frets).map_or(0, |(lowest, _)| lowest)
    }

    /// How far the hand goes from one shape to the other: twice the shift of the hand, the frets that
    /// fingers move within it, and one for each string that is taken up or left. A shape moved up the
    /// neck as it is keeps its fingers where they are in the hand: only the shift counts.
    pub fn movement(&self, other: &Self) -> u32 {
        self.movement_between(self.position(), other, other.position())
    }
}

impl Shape for ChopShape {
    fn cost(&self) -> u32 {
        self.cost
    }

    fn position(&self) -> u8 {
        self.position()
    }

    fn movement_between(&self, here: u8, other: &Self, there: u8) -> u32 {
        movement((&self.frets, here), (&other.frets, there))
    }
}

/// The chop shapes of the chord, from the one that lies best, 16 at most. A slash bass is left to the
/// bass.
///
/// In each: tones of the chord only, each string a pitch of its own; what names the chord (the third
/// or its suspension, the seventh, the colour, an altered fifth); in triads the root as well.
pub fn chop_shapes(chord: &Chord) -> Vec<ChopShape> {
    let tones = Tones::of(chord);
    let mut found = Vec::new();
    for strings in [0..4, 0..3, 1..4] {
        let mut frets = [None; 4];
        stop(&tones, &mut frets, (strings.start, strings.end), None, &mut found);
    }
    // Ties are broken by the frets themselves, so that the order is always the same.
    found.sort_unstable_by_key(|shape| (shape.cost, shape.frets));
    found.truncate(MOST);
    found
}

/// A chord's pitch classes as bits, C = bit 0.
struct Tones {
    all: u16,
    required: u16,
    root: u16,
    fifth: u16,
}

impl Tones {
    fn of(chord: &Chord) -> Self {
        let bits = |intervals: &[u8]| class_bits(chord.root.pitch_class(), intervals);
        let quality = chord.quality;
        let (root, named) = (bits(&[0]), quality.essential());
        Self {
            all: bits(quality.intervals()),
            required: bits(named) | if named.len() < 2 { root } else { 0 },
            root,
            fifth: bits(quality.fifth().as_slice()),
        }
    }
}

/// Stops the strings from `string` to `end` in every way that the hand can hold. `stopped` is the
/// lowest and highest fret stopped so far.
fn stop(
    tones: &Tones,
    frets: &mut Frets<4>,
    (string, end): (usize, usize),
    stopped: Option<(u8, u8)>,
    found: &mut Vec<ChopShape>,
) {
    if string == end {
        found.extend(finished(tones, frets));
        return;
    }
    let Some(open) = MANDOLIN.open.get(string) else { return };
    for fret in (1..=HIGHEST).filter(|fret| tones.all & (1 << ((open + fret) % 12)) != 0) {
        let (low, high) = stopped.map_or((fret, fret), |(a, b)| (a.min(fret), b.max(fret)));
        if MANDOLIN.reach.spans(low, high) {
            if let Some(place) = frets.get_mut(string) {
                *place = Some(fret);
            }
            stop(tones, frets, (string + 1, end), Some((low, high)), found);
        }
    }
    if let Some(place) = frets.get_mut(string) {
        *place = None;
    }
}

fn finished(tones: &Tones, frets: &Frets<4>) -> Option<ChopShape> {
    let notes = MANDOLIN.notes(frets, 0);
    let heard = heard_bits(&notes);
    let complete = heard & tones.required == tones.required;
    (complete && MANDOLIN.reach.holds(frets) && !has_unison(&notes))
        .then(|| ChopShape { frets: *frets, cost: cost(tones, frets, heard) })
}

/// Common practice, no source: full, low and easy to hold is better.
fn cost(tones: &Tones, frets: &Frets<4>, heard: u16) -> u32 {
    const MISSING_ROOT: u32 = 3;
    const MISSING_OTHER: u32 = 2;
    const THIN: u32 = 3;
    const UNCOMFORTABLE: u32 = 2;
    /// A4, about a fifth above where the strums of a guitar with a capo lie. Two notes more or fewer, and
    /// the hand leaps more than players' hands do (tests/musicianship).
    const CLEAR: u32 = 69;
    let missing = tones.all & !heard;
    let others = (missing & !tones.root).count_ones();
    let root = u32::from(missing & tones.root != 0);
    // A triad has few notes to lose: without its fifth it doubles root or third, which no player does
    // who can move a full shape up instead.
    let fifth = 3 * u32::from(missing & tones.fifth != 0 && tones.all.count_ones() == 3);
    // Without the G string the chop has no body.
    let thin = u32::from(frets.first().is_some_and(Option::is_none));
    let (lowest, highest) = reach::stopped_range(frets).unwrap_or((0, 0));
    let span = u32::from(highest - lowest);
    // Three frets lie under the fingers; each more is a stretch.
    let stretch = span.saturating_sub(3) * 2;
    let outside = frets.iter().flatten().map(|fret| {
        let under = COMFORTABLE.start().saturating_sub(*fret);
        u32::from(under + fret.saturating_sub(*COMFORTABLE.end()))
    });
    let fingers = reach::fingers(frets) as u32;
    // Down where the guitar strums, the bark is lost in the strum.
    let notes = || MANDOLIN.notes(frets, 0).into_iter().flatten().map(|note| u32::from(note.get()));
    let mean = notes().sum::<u32>().checked_div(notes().count() as u32).unwrap_or(CLEAR);
    let crowding = CLEAR.saturating_sub(mean);
    root * MISSING_ROOT
        + others * MISSING_OTHER
        + fifth
        + thin * THIN
        + stretch
        + fingers
        + crowding
        + outside.sum::<u32>() * UNCOMFORTABLE
}
