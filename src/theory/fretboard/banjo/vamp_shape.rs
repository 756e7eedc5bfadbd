use super::super::shape::{Shape, movement};
use super::super::{Frets, class_bits, has_unison, heard_bits, reach};
use super::{BANJO, LONG_STRINGS, sounding};
use crate::theory::{Capo, Chord, MidiNote};

/// A closed chord up the neck for vamping: three of the long strings, all stopped, so that lifting the
/// hand silences them. Thumb, index and middle finger pinch them together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct VampShape {
    /// For each long string, fourth first, its fret above the capo; `None` not struck. The first string
    /// is always struck.
    pub frets: Frets<LONG_STRINGS>,
    /// Where the capo is, 0 for none.
    pub capo: u8,
    /// How ill it lies and sounds by itself; 0 could not be better. One is about a fret of hand
    /// movement.
    pub cost: u32,
}

/// Which strings are struck, by their places, and what each choice costs: together on the three upper
/// strings best; with the fourth the chord reaches further down.
const STRINGS: [([usize; 3], u32); 3] = [([1, 2, 3], 0), ([0, 2, 3], 2), ([0, 1, 3], 3)];

/// Where on the neck, counted from the nut, a vamp lies best: above the singer's and the guitar's chords,
/// below where the strings no longer bark (common practice, no source).
const COMFORTABLE: std::ops::RangeInclusive<u8> = 5..=12;

/// The highest fret, counted from the nut.
const HIGHEST: u8 = 15;

/// More would only lengthen the search for the way through a chart.
const MOST: usize = 12;

/// The vamp shapes of the chord with a capo at the given fret (held to 0..=12), from the one that lies
/// best, 12 at most. A slash bass is left to the bass.
///
/// In each: three tones of the chord on three pitches; the third or what stands for it, the seventh or the
/// first colour, and in triads the root.
pub fn vamp_shapes(chord: &Chord, capo: u8) -> Vec<VampShape> {
    let capo = Capo::clamped(capo);
    let root = capo.shape(chord.root.pitch_class());
    let named = chord.quality.essential();
    let all = class_bits(root, chord.quality.intervals());
    let first = |count: usize| class_bits(root, named.get(..count).unwrap_or(named));
    let whole = first(2) | if named.len() < 2 { 1 << root } else { 0 };
    // What three strings cannot have within a hand's reach is left out, but for the third.
    [whole, first(1)]
        .into_iter()
        .map(|required| shapes(all, required, capo.fret()))
        .find(|shapes| !shapes.is_empty())
        .unwrap_or_default()
}

fn shapes(all: u16, required: u16, capo: u8) -> Vec<VampShape> {
    let mut found = Vec::new();
    let highest = HIGHEST.min(BANJO.frets).saturating_sub(capo);
    let on = |place: usize| {
        let open = BANJO.open.get(place).copied().unwrap_or_default();
        (1..=highest).filter(move |fret| all & 1 << ((open + fret) % 12) != 0)
    };
    for ([low, middle, high], preference) in STRINGS {
        for a in on(low) {
            for b in on(middle).filter(|&b| BANJO.reach.spans(a.min(b), a.max(b))) {
                for c in on(high) {
                    let mut frets = [None; LONG_STRINGS];
                    for (place, fret) in [(low, a), (middle, b), (high, c)] {
                        if let Some(string) = frets.get_mut(place) {
                            *string = Some(fret);
                        }
                    }
                    let notes = notes(&frets, 0);
                    let heard = heard_bits(&notes);
                    if heard & required == required
                        && BANJO.reach.holds(&frets)
                        && !has_unison(&notes)
                    {
                        let missing = (all & !heard).count_ones();
                        let cost = preference + cost(&frets, capo) + 3 * missing.min(2);
                        found.push(VampShape { frets, capo, cost });
                    }
                }
            }
        }
    }
    // Ties are broken by the frets themselves, so that the order is always the same.
    found.sort_unstable_by_key(|shape| (shape.cost, shape.frets));
    found.truncate(MOST);
    found
}

fn cost(frets: &Frets<LONG_STRINGS>, capo: u8) -> u32 {
    const UNCOMFORTABLE: u32 = 2;
    let (lowest, highest) = reach::stopped_range(frets).unwrap_or((0, 0));
    // Three frets lie under the fingers; each more is a stretch.
    let stretch = 2 * u32::from((highest - lowest).saturating_sub(2));
    let outside = frets.iter().flatten().map(|fret| {
        let fret = fret.saturating_add(capo);
        let under = COMFORTABLE.start().saturating_sub(fret);
        u32::from(under + fret.saturating_sub(*COMFORTABLE.end()))
    });
    stretch + UNCOMFORTABLE * outside.sum::<u32>()
}

fn notes(frets: &Frets<LONG_STRINGS>, capo: u8) -> [Option<MidiNote>; LONG_STRINGS] {
    let mut notes = [None; LONG_STRINGS];
    for ((place, note), fret) in notes.iter_mut().enumerate().zip(frets) {
        *note = fret.map(|fret| sounding(super::number_at(place), fret, capo));
    }
    notes
}

impl VampShape {
    /// What each long string sounds, the fourth first.
    pub fn notes(&self) -> [Option<MidiNote>; LONG_STRINGS] {
        notes(&self.frets, self.capo)
    }
}

impl Shape for VampShape {
    fn cost(&self) -> u32 {
        self.cost
    }

    fn position(&self) -> u8 {
        reach::stopped_range(&self.frets).map_or(0, |(lowest, _)| lowest)
    }

    fn movement_between(&self, here: u8, other: &Self, there: u8) -> u32 {
        movement((&self.frets, here), (&other.frets, there))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frets(symbol: &str, capo: u8) -> Vec<Frets<LONG_STRINGS>> {
        let shapes = vamp_shapes(&Chord::parse(symbol).unwrap(), capo);
        shapes.iter().map(|shape| shape.frets).collect()
    }

    #[test]
    fn the_three_movable_shapes_are_there() {
        // Common practice, no source: strings 3 2 1. Third at the bottom, fifth at the bottom, and the
        // barre, whose root is at the bottom.
        for (symbol, shape) in
            [("C", [9, 8, 10]), ("G", [7, 8, 9]), ("D", [7, 7, 7]), ("A", [6, 5, 7])]
        {
            let [low, middle, high] = shape.map(Some);
            assert!(frets(symbol, 0).contains(&[None, low, middle, high]), "{symbol}");
        }
        assert!(frets("A", 2).contains(&[None, Some(7), Some(8), Some(9)]), "a G shape");
    }
}
