use super::super::{Frets, class_bits, has_unison, heard_bits, reach};
use super::{BANJO, LONG_STRINGS, number_at, sounding, vamp_shapes};
use crate::theory::{Capo, Chord, Letter, MidiNote, PitchName, Quality};

/// A closed chord: every string that is picked is stopped, so that the shape can be moved along the neck
/// and its strings fall silent when the hand lets go. The short string is left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct ClosedShape {
    /// For each long string, fourth first, its fret above the capo; `None` not picked.
    pub frets: Frets<LONG_STRINGS>,
    /// Where the capo is, 0 for none.
    pub capo: u8,
    /// Which tone of the chord is the lowest: semitones above the root, 0 to 11.
    pub lowest: u8,
}

/// Which tone of the chord is the lowest, as musicians number it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Inversion {
    /// The root.
    Root,
    /// The third, or the note that is suspended for it.
    First,
    /// The fifth.
    Second,
    /// The seventh, or the sixth of a sixth chord.
    Third,
    /// Another tone, a ninth for example.
    Other,
}

impl Inversion {
    /// Its name.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Root => "root position",
            Self::First => "1st inversion",
            Self::Second => "2nd inversion",
            Self::Third => "3rd inversion",
            Self::Other => "colour lowest",
        }
    }

    /// That of a chord whose lowest tone lies so many semitones above its root.
    pub fn of(quality: Quality, lowest: u8) -> Self {
        let is = |tone: Option<u8>| tone == Some(lowest);
        let sixth = quality.intervals().contains(&9) && lowest == 9;
        if lowest == 0 {
            Self::Root
        } else if is(quality.third_or_suspended()) {
            Self::First
        } else if is(quality.fifth()) {
            Self::Second
        } else if is(quality.seventh()) || sixth {
            Self::Third
        } else {
            Self::Other
        }
    }
}

/// The highest fret at which a hand's lowest finger stops a string, counted from the capo: an octave above
/// the open strings everything comes again.
const HIGHEST: u8 = 12;

/// The closed shapes of a chord on the four long strings with a capo at a fret (held to 0..=12), from low to
/// high on the neck: the one that lies best for each tone that can be the lowest. A slash bass is left to the
/// bass.
///
/// Each has the whole chord; where four strings cannot have it within a hand's reach, what names it and the
/// root; and where they cannot have that, three of them are picked.
///
/// That a major chord has three such shapes, with root, third and fifth at the bottom, is common practice,
/// no source.
pub fn closed_shapes(chord: &Chord, capo: u8) -> Vec<ClosedShape> {
    let capo = Capo::clamped(capo);
    let root = capo.shape(chord.root.pitch_class());
    let all = class_bits(root, chord.quality.intervals());
    let named = class_bits(root, chord.quality.essential()) | 1 << root;
    let mut found: Vec<(u32, ClosedShape)> = Vec::new();
    for required in [all, named] {
        let mut better = Vec::new();
        search(all, required, root, capo.fret(), &mut better);
        better.sort_unstable_by_key(|(cost, shape)| (*cost, shape.frets));
        for (cost, shape) in better {
            if found.iter().all(|(_, other)| other.lowest != shape.lowest) {
                found.push((cost, shape));
            }
        }
    }
    let mut shapes: Vec<ClosedShape> = found.into_iter().map(|(_, shape)| shape).collect();
    if shapes.is_empty() {
        shapes = on_three_strings(chord, capo.fret(), root);
    }
    shapes.sort_unstable_by_key(|shape| (shape.position(), shape.frets));
    shapes
}

/// What three strings have, one for each tone that can be the lowest.
fn on_three_strings(chord: &Chord, capo: u8, root: u8) -> Vec<ClosedShape> {
    let mut shapes: Vec<ClosedShape> = Vec::new();
    for vamp in vamp_shapes(chord, capo) {
        let lowest = lowest(&vamp.frets, root);
        if shapes.iter().all(|other| other.lowest != lowest) {
            shapes.push(ClosedShape { frets: vamp.frets, capo, lowest });
        }
    }
    shapes
}

fn search(all: u16, required: u16, root: u8, capo: u8, found: &mut Vec<(u32, ClosedShape)>) {
    // A stretch above the highest position is still on the neck.
    let highest = (HIGHEST + BANJO.reach.higher).min(BANJO.frets.saturating_sub(capo));
    let on = |place: usize| {
        let open = BANJO.open.get(place).copied().unwrap_or_default();
        (1..=highest).filter(move |fret| all & 1 << ((open + fret) % 12) != 0)
    };
    let spans = |a: u8, b: u8| BANJO.reach.spans(a.min(b), a.max(b));
    for a in on(0) {
        for b in on(1).filter(|&b| spans(a, b)) {
            for c in on(2).filter(|&c| spans(a, c) && spans(b, c)) {
                for d in on(3).filter(|&d| spans(a, d) && spans(b, d) && spans(c, d)) {
                    let frets = [Some(a), Some(b), Some(c), Some(d)];
                    let notes = notes(&frets, 0);
                    let low = a.min(b).min(c).min(d);
                    let heard = heard_bits(&notes);
                    if heard & required == required
                        && low <= HIGHEST
                        && BANJO.reach.holds(&frets)
                        && !has_unison(&notes)
                    {
                        let span = a.max(b).max(c).max(d) - low;
                        let missing = (all & !heard).count_ones();
                        let cost = weight::STRETCH * u32::from(span.saturating_sub(2))
                            + weight::FINGER * reach::fingers(&frets) as u32
                            + weight::MISSING * missing
                            + u32::from(low);
                        let lowest = lowest(&frets, root);
                        found.push((cost, ClosedShape { frets, capo, lowest }));
                    }
                }
            }
        }
    }
}

/// What a shape costs, beside a point for each fret that the hand lies up the neck. Common practice, no
/// source: weights chosen so that the shapes that every player learns come out.
mod weight {
    /// Each finger.
    pub const FINGER: u32 = 1;
    /// Each fret that the hand spreads beyond three: more than an octave up the neck, so that each chord has
    /// the same few shapes that move.
    pub const STRETCH: u32 = 13;
    /// Each tone of the chord left out.
    pub const MISSING: u32 = 6;
}

fn notes(frets: &Frets<LONG_STRINGS>, capo: u8) -> [Option<MidiNote>; LONG_STRINGS] {
    let mut notes = [None; LONG_STRINGS];
    for ((place, note), fret) in notes.iter_mut().enumerate().zip(frets) {
        *note = fret.map(|fret| sounding(number_at(place), fret, capo));
    }
    notes
}

/// How far above the root the lowest string lies. `root` as it would sound without the capo.
fn lowest(frets: &Frets<LONG_STRINGS>, root: u8) -> u8 {
    let lowest = notes(frets, 0).into_iter().flatten().min();
    lowest.map_or(0, |note| (note.pitch_class() + 12 - root % 12) % 12)
}

impl ClosedShape {
    /// What each long string sounds, the fourth first.
    pub fn notes(&self) -> [Option<MidiNote>; LONG_STRINGS] {
        notes(&self.frets, self.capo)
    }

    /// Where the hand is: the lowest fret stopped, counted from the capo.
    pub fn position(&self) -> u8 {
        reach::stopped_range(&self.frets).map_or(0, |(lowest, _)| lowest)
    }

    /// The highest fret stopped, counted from the capo.
    pub fn highest(&self) -> u8 {
        reach::stopped_range(&self.frets).map_or(0, |(_, highest)| highest)
    }

    /// The left hand's finger on each string, 1 to 4, the fourth string first: a finger a fret where it can
    /// be, and the first across all that are stopped at the lowest fret. Where two strings are stopped at
    /// one fret, the lower string has the lower finger.
    pub fn left_hand(&self) -> [Option<u8>; LONG_STRINGS] {
        let lowest = self.position();
        let barred = reach::barre(&self.frets).is_some();
        let mut order: Vec<(u8, usize)> = self
            .frets
            .iter()
            .enumerate()
            .filter_map(|(place, fret)| Some(((*fret)?, place)))
            .collect();
        order.sort_unstable();
        let mut hand = [None; LONG_STRINGS];
        let mut last = 0;
        let mut left = order.len() as u8;
        for (fret, place) in order {
            left = left.saturating_sub(1);
            let finger = if barred && fret == lowest {
                1
            } else {
                // As far along the hand as along the neck, but so that fingers are left for the rest.
                let own = (fret - lowest + 1).max(last + 1);
                own.min(4_u8.saturating_sub(left)).max(1)
            };
            last = finger;
            if let Some(string) = hand.get_mut(place) {
                *string = Some(finger);
            }
        }
        hand
    }

    /// How many frets the hand spreads over, beyond one.
    pub fn span(&self) -> u8 {
        self.highest() - self.position()
    }

    /// Which tone of the chord it has at the bottom.
    pub fn inversion(&self, quality: Quality) -> Inversion {
        Inversion::of(quality, self.lowest)
    }
}

/// The name of the chord's shape with a capo at a fret: what its root would be without the capo. A G shape
/// is an A with the capo at the second fret.
pub fn shape_root(chord: &Chord, capo: u8) -> PitchName {
    let class = Capo::clamped(capo).shape(chord.root.pitch_class());
    // Of the black keys some go by their sharp and some by their flat, whatever the root is called;
    // minor G sharp, but A flat major: common practice, no source.
    let sharp = match class {
        1 | 6 => chord.root.accidental >= 0,
        8 => chord.root.accidental > 0 || chord.quality.is_minor(),
        _ => chord.root.accidental > 0,
    };
    let names = Letter::ALL.map(|letter| PitchName::spelled(letter, i32::from(class)));
    let worst = |name: &PitchName| {
        let odd = (name.accidental > 0) != sharp && name.accidental != 0;
        (name.accidental.unsigned_abs(), odd)
    };
    names.into_iter().min_by_key(worst).unwrap_or(chord.root)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chord(symbol: &str) -> Chord {
        Chord::parse(symbol).unwrap()
    }

    fn shapes(symbol: &str, capo: u8) -> Vec<(String, &'static str, String)> {
        let chord = chord(symbol);
        let text = |frets: &[Option<u8>]| {
            let words = frets.iter().map(|fret| fret.map_or("x".to_owned(), |f| f.to_string()));
            words.collect::<Vec<_>>().join(" ")
        };
        closed_shapes(&chord, capo)
            .iter()
            .map(|shape| {
                let name = shape.inversion(chord.quality).as_str();
                (text(&shape.frets), name, text(&shape.left_hand()))
            })
            .collect()
    }

    #[test]
    fn a_major_chord_has_the_three_shapes_that_players_learn() {
        // Common practice, no source: the F shape has the root at the bottom, the D shape the third, the
        // barre the fifth; so are they fingered.
        let found = shapes("A", 0);
        let expected = [
            ("2 2 2 2", "2nd inversion", "1 1 1 1"),
            ("7 6 5 7", "root position", "3 2 1 4"),
            ("11 9 10 11", "1st inversion", "3 1 2 4"),
        ];
        let found: Vec<(&str, &str, &str)> =
            found.iter().map(|(frets, name, hand)| (&**frets, *name, &**hand)).collect();
        assert_eq!(found, expected);
        assert_eq!(shapes("B", 2)[0].0, "2 2 2 2", "an A shape");
    }

    #[test]
    fn a_minor_chord_lowers_their_thirds() {
        let found = shapes("Am", 0);
        for frets in ["2 2 1 2", "7 5 5 7", "10 9 10 10"] {
            assert!(found.iter().any(|(shape, ..)| shape == frets), "{frets} in {found:?}");
        }
    }

    #[test]
    fn every_chord_has_one_that_a_hand_can_hold() {
        for quality in Quality::all() {
            for class in 0..12 {
                for capo in 0..=5 {
                    let root = PitchName::spelled(Letter::C, class);
                    let chord = Chord::new(root, quality);
                    let found = closed_shapes(&chord, capo);
                    assert!(!found.is_empty(), "{chord} capo {capo}");
                    for shape in found {
                        assert!(BANJO.reach.holds(&shape.frets), "{chord} {shape:?}");
                        assert!(shape.position() >= 1 && shape.highest() + capo <= BANJO.frets);
                        assert!(
                            shape.notes().iter().flatten().all(|n| chord.contains(n.pitch_class()))
                        );
                        let lowest = shape.notes().into_iter().flatten().min().unwrap();
                        assert_eq!(
                            (chord.root.pitch_class() + shape.lowest) % 12,
                            lowest.pitch_class(),
                            "{chord}"
                        );
                        // No finger on two frets, and no two crossed.
                        let held: Vec<(u8, u8)> = shape
                            .left_hand()
                            .into_iter()
                            .zip(shape.frets)
                            .filter_map(|(finger, fret)| Some((finger?, fret?)))
                            .collect();
                        for (i, a) in held.iter().enumerate() {
                            for b in &held[i + 1..] {
                                assert!(a.0 != b.0 || a.1 == b.1, "{chord} {shape:?} {held:?}");
                                assert!(
                                    (a.0 < b.0) == (a.1 < b.1) || a.1 == b.1,
                                    "{chord} {held:?}"
                                );
                            }
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn a_shape_is_called_by_what_it_looks_like() {
        for (symbol, capo, name) in [
            ("A", 2, "G"),
            ("Bb", 3, "G"),
            ("C#m", 4, "A"),
            ("Eb", 3, "C"),
            ("F#m", 2, "E"),
            ("Bdim7", 5, "F#"),
            ("C", 4, "Ab"),
        ] {
            assert_eq!(shape_root(&chord(symbol), capo).to_string(), name, "{symbol} {capo}");
        }
        assert_eq!(shape_root(&chord("F#"), 0).to_string(), "F#");
        assert_eq!(shape_root(&chord("Gb"), 0).to_string(), "Gb");
    }
}
