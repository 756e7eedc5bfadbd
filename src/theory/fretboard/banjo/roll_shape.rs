use super::super::{Frets, class_bits, has_unison, heard_bits, reach};
use super::short_string::{Drone, drops_third, short_string_fits};
use super::{BANJO, LONG_STRINGS};
use crate::theory::{Capo, Chord, MidiNote};

/// A chord as the left hand holds it low on the neck for rolls: open strings where the chord has them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct RollShape {
    /// For each of the long strings, fourth first, its fret above the capo: 0 open, `None` not picked.
    pub frets: Frets<LONG_STRINGS>,
    /// Where the capo is, 0 for none.
    pub capo: u8,
}

/// As far up as a roll shape is looked for first. Every triad lies below.
const LOW: u8 = 7;

/// As far up as one is looked for at all: an octave has every note on each string.
const HIGHEST: u8 = 12;

/// The shape that a banjo player would roll on for the chord as it sounds, with a capo at the given fret
/// (held to 0..=12): G open, C 2 0 1 2, D 0 2 3 4, F 3 2 1 3, fourth string first. A slash bass is left
/// to the bass.
///
/// Each of the four strings has a tone of the chord, and the hand that stops them spans four frets, five
/// from the sixth on. What names the chord is among them, in a triad the root too; of the rest the root is
/// missed most.
pub fn roll_shape(chord: &Chord, capo: u8) -> RollShape {
    shape(chord, capo, None)
}

/// The chord low on the neck as a player holds it who does or does not let the short string drone: [`roll_shape`],
/// but where the drone would rub against the third, the chord without it. So D is 0 2 3 0 from the fourth string to
/// the first, and D7 0 2 1 0, as beginners learn it (common practice, no source).
pub fn low_shape(chord: &Chord, capo: u8, drone: Drone) -> RollShape {
    let without =
        drone == Drone::Rings && !short_string_fits(chord, capo) && drops_third(chord, capo);
    shape(chord, capo, without.then_some(4))
}

/// The shape, without the tone that lies so far above the root.
fn shape(chord: &Chord, capo: u8, without: Option<u8>) -> RollShape {
    let capo = Capo::clamped(capo);
    let quality = chord.quality;
    let essential = quality.essential().iter().copied();
    let named: Vec<u8> = essential.filter(|tone| Some(*tone) != without).collect();
    let named = named.as_slice();
    // A triad is nothing without its root.
    let whole: Vec<u8> = named.iter().copied().chain((named.len() < 2).then_some(0)).collect();
    let fewer = (1..named.len()).rev().filter_map(|count| named.get(..count));
    let low = std::iter::once((&*whole, LOW));
    let higher = std::iter::once(&*whole).chain(fewer).map(|required| (required, HIGHEST));
    let mut tries = low.chain(higher);
    let frets = tries
        .find_map(|(required, highest)| {
            let mut search = Search::new(chord, capo, required, highest);
            if let Some(without) = without {
                search.tones &= !class_bits(capo.shape(chord.root.pitch_class()), &[without]);
            }
            search.stop(&mut [None; LONG_STRINGS], 0, None);
            search.best.map(|(_, frets)| frets)
        })
        .unwrap_or([None; LONG_STRINGS]);
    RollShape { frets, capo: capo.fret() }
}

impl RollShape {
    /// What each long string sounds, the fourth first.
    pub fn notes(&self) -> [Option<MidiNote>; LONG_STRINGS] {
        notes(&self.frets, self.capo)
    }
}

fn notes(frets: &Frets<LONG_STRINGS>, capo: u8) -> [Option<MidiNote>; LONG_STRINGS] {
    let mut notes = [None; LONG_STRINGS];
    for ((note, fret), open) in notes.iter_mut().zip(frets).zip(BANJO.open) {
        *note =
            fret.map(|fret| MidiNote::clamped(i32::from(open) + i32::from(fret) + i32::from(capo)));
    }
    notes
}

/// What a shape costs, beside a point for each fret that a string is stopped up the neck. Common practice,
/// no source: weights chosen so that the chords every player learns first come out as they are learned.
mod weight {
    /// Each finger.
    pub const FINGER: u32 = 1;
    /// Each fret that the whole hand lies above the first.
    pub const POSITION: u32 = 1;
    /// A spread of four frets or more.
    pub const STRETCH: u32 = 3;
    /// A tone of the chord left out, be it a perfect fifth or a colour.
    pub const MISSING: u32 = 3;
    /// The root left out, beside that: the bass has it.
    pub const MISSING_ROOT: u32 = 2;
    /// A string left to ring open while the hand is away from the nut: a barre takes it along more easily.
    pub const OPEN_AWAY: u32 = 4;
    /// Where the hand is away from the nut.
    pub const AWAY: u8 = 3;
    /// Two strings on one pitch, of which a roll hears only one.
    pub const UNISON: u32 = 8;
}

struct Search {
    /// Pitch classes as bits, C = bit 0, as the shape would sound without its capo.
    tones: u16,
    required: u16,
    root: u16,
    highest: u8,
    best: Option<(u32, Frets<LONG_STRINGS>)>,
}

impl Search {
    fn new(chord: &Chord, capo: Capo, required: &[u8], highest: u8) -> Self {
        let root = capo.shape(chord.root.pitch_class());
        Self {
            tones: class_bits(root, chord.quality.intervals()),
            required: class_bits(root, required),
            root: class_bits(root, &[0]),
            highest: highest.min(BANJO.frets.saturating_sub(capo.fret())),
            best: None,
        }
    }

    /// Puts the chord's tones on a string in every way, and goes on to the next. `stopped` is the lowest
    /// and highest fret stopped so far.
    fn stop(&mut self, frets: &mut Frets<LONG_STRINGS>, string: usize, stopped: Option<(u8, u8)>) {
        let (Some(open), true) = (BANJO.open.get(string), string < LONG_STRINGS) else {
            self.consider(frets);
            return;
        };
        let tones = self.tones;
        for fret in (0..=self.highest).filter(|fret| tones & 1 << ((open + fret) % 12) != 0) {
            let stopped = match (fret, stopped) {
                (0, _) => stopped,
                (_, None) => Some((fret, fret)),
                (_, Some((low, high))) => Some((low.min(fret), high.max(fret))),
            };
            if stopped.is_none_or(|(low, high)| BANJO.reach.spans(low, high)) {
                if let Some(place) = frets.get_mut(string) {
                    *place = Some(fret);
                }
                self.stop(frets, string + 1, stopped);
            }
        }
        if let Some(place) = frets.get_mut(string) {
            *place = None;
        }
    }

    fn consider(&mut self, frets: &Frets<LONG_STRINGS>) {
        let notes = notes(frets, 0);
        let heard = heard_bits(&notes);
        if heard & self.required != self.required || !BANJO.reach.holds(frets) {
            return;
        }
        let (lowest, highest) = reach::stopped_range(frets).unwrap_or((1, 1));
        let height: u32 = frets.iter().flatten().map(|&fret| u32::from(fret)).sum();
        let cost = height
            + weight::FINGER * reach::fingers(frets) as u32
            + weight::POSITION * u32::from(lowest - 1)
            + weight::STRETCH * u32::from(highest - lowest > 2)
            + weight::MISSING * (self.tones & !heard).count_ones()
            + weight::MISSING_ROOT * u32::from(self.root & !heard != 0)
            + weight::OPEN_AWAY * u32::from(lowest >= weight::AWAY && frets.contains(&Some(0)))
            + weight::UNISON * u32::from(has_unison(&notes));
        // Of equals the one found first, whose fourth string is the lower.
        if self.best.is_none_or(|(least, _)| cost < least) {
            self.best = Some((cost, *frets));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frets(symbol: &str, capo: u8) -> String {
        let shape = roll_shape(&Chord::parse(symbol).unwrap(), capo);
        shape.frets.iter().map(|fret| fret.map_or("x".to_owned(), |f| f.to_string())).collect()
    }

    #[test]
    fn the_first_chords_lie_where_players_learn_them() {
        // Common practice, no source, but for G, which is the tuning.
        for (symbol, shape) in [
            ("G", "0000"),
            ("C", "2012"),
            ("D", "0234"),
            ("Em", "2002"),
            ("Am", "2212"),
            ("A", "2222"),
            ("F", "3213"),
            ("E", "2102"),
            ("G7", "0003"),
            ("C7", "2312"),
            ("A7", "2022"),
            ("Dm", "0233"),
            ("Bb", "3333"),
        ] {
            assert_eq!(frets(symbol, 0), shape, "{symbol}");
        }
        let drone = |symbol| {
            let shape = low_shape(&Chord::parse(symbol).unwrap(), 0, Drone::Rings);
            shape.frets.map(|fret| fret.unwrap_or(99))
        };
        assert_eq!(drone("D"), [0, 2, 3, 0]);
        assert_eq!(drone("D7"), [0, 2, 1, 0]);
        assert_eq!(drone("C"), [2, 0, 1, 2]);
        assert_eq!(frets("A", 2), "0000", "a G shape");
        assert_eq!(frets("Eb", 3), "2012", "a C shape");
    }
}
