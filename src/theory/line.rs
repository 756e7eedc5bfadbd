use std::ops::{Range, RangeInclusive};

use super::{Chord, Key, MidiNote, Scale};
use crate::trellis::{Cost, Trellis, least_path};

/// Notes that lead from one to another, and how far they are from what a player would like best.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// The notes on the way, in order: neither where it sets off nor where it arrives.
    pub notes: Vec<MidiNote>,
    /// What the line costs: 0 for one that goes by step of the scale, the same way throughout.
    pub cost: u32,
}

/// What a line costs. Common practice, no source: weights chosen so that the walks every bass player and
/// guitarist knows come out, among them those that the tests name.
mod cost {
    /// The note that it sets off from struck once more. A run of quarters should set off at once; ...
    pub const AGAIN: u32 = 40;
    /// ... one of four notes or more begins on the root by right.
    pub const AGAIN_IN_A_LONG_LINE: u32 = 20;
    /// Each note that is not the scale's. It is there only as the semitone between two others, when the
    /// scale alone has a note too few; the nearer to the end the better, one less for each note.
    pub const CHROMATIC: u32 = 30;
    /// A leap of a third onto a tone of the chord, to set off.
    pub const THIRD: u32 = 10;
    /// A leap of a third onto another note, to set off.
    pub const FOREIGN_THIRD: u32 = 50;
    /// What a leap of a third costs besides when the line is on its way.
    pub const LATE_THIRD: u32 = 50;
    /// A leap of a fourth or fifth onto a tone of the chord, to set off.
    pub const FIFTH: u32 = 30;
    /// A leap of a fourth or fifth onto another note, to set off.
    pub const FOREIGN_FIFTH: u32 = 70;
    /// A leap of an octave, to set off.
    pub const OCTAVE: u32 = 80;
    /// A tritone, a sixth, a seventh, or more than an octave, to set off; ...
    pub const AWKWARD: u32 = 120;
    /// ... and each of its semitones.
    pub const SEMITONE: u32 = 10;
    /// Turning round on a tone of the chord.
    pub const TURN: u32 = 20;
    /// Turning round on another note.
    pub const FOREIGN_TURN: u32 = 60;
    /// Sounding where the line leads before it is there.
    pub const TOO_SOON: u32 = 60;
    /// A single note that leads by a whole tone into a chord a fourth up, where the semitone would do:
    /// the leading note of that chord.
    pub const NO_LEADING_NOTE: u32 = 20;
}

/// The line of `steps` notes that leads from `from`, in `chord`, to `to`, with every note in `range`: by
/// step and one way where it can, by the chord's tones where that is too far, with passing semitones where
/// the scale has a note too few. Its last note lies a semitone or a whole tone from `to`, always.
///
/// `None` if `range` holds no such line, which takes a range of hardly a third.
pub fn line(
    from: MidiNote,
    to: MidiNote,
    steps: usize,
    key: Key,
    chord: &Chord,
    range: RangeInclusive<u8>,
) -> Option<Line> {
    if steps == 0 {
        return Some(Line { notes: Vec::new(), cost: 0 });
    }
    let to = i32::from(to.get());
    let scale = Scale::of(key, chord);
    let chord_bits = chord.pitch_classes().fold(0, |bits: u16, class| bits | 1 << class);
    let fourth_up = (to - i32::from(chord.root.pitch_class())).rem_euclid(12) == 5;
    let (low, high) = (i32::from(*range.start()), i32::from(*range.end()));
    let near = [to - 2, to - 1, to + 1, to + 2];
    let bare = !near.iter().any(|&note| scale.has(note) && (low..=high).contains(&note));
    let search = Search { to, steps, scale, chord_bits, fourth_up, bare, low, high };
    search.run(i32::from(from.get()))
}

struct Search {
    to: i32,
    steps: usize,
    scale: Scale,
    /// The chord's pitch classes, C in the lowest bit.
    chord_bits: u16,
    /// The line leads into a chord a fourth above this one.
    fourth_up: bool,
    /// The scale has no note by step of where the line leads, so a semitone leads there from anywhere: a
    /// chord of four flats bends a scale beyond what a line is made of.
    bare: bool,
    low: i32,
    high: i32,
}

/// A note of a line and the way it is left.
#[derive(Clone, Copy)]
struct LineNote {
    note: i32,
    /// Up 1 or down -1.
    way: i32,
}

/// Each note can be left downwards and upwards.
const WAYS: [i32; 2] = [-1, 1];

impl Search {
    /// The line that sets off from a note.
    fn run(self, from: i32) -> Option<Line> {
        let back = Back { from, search: self };
        let mut path = least_path(&back)?;
        path.states.pop();
        let notes = path.states.iter().rev().map(|&state| back.search.place(state).note);
        Some(Line { notes: notes.map(MidiNote::clamped).collect(), cost: path.cost })
    }

    const fn place(&self, state: usize) -> LineNote {
        let way = if state.is_multiple_of(WAYS.len()) { WAYS[0] } else { WAYS[1] };
        LineNote { note: self.low + (state / WAYS.len()) as i32, way }
    }

    /// The states of the notes from one to another, as far as there are any.
    fn states(&self, from: i32, to: i32) -> Range<usize> {
        let at = |note: i32| {
            let above = note.min(self.high + 1).max(self.low) - self.low;
            usize::try_from(above).unwrap_or(0) * WAYS.len()
        };
        at(from)..at(to + 1)
    }

    /// True if a line may end on a note that is left that way.
    fn may_end(&self, place: LineNote) -> bool {
        let step = self.to - place.note;
        let leads =
            if self.scale.has(place.note) { matches!(step.abs(), 1 | 2) } else { step.abs() == 1 };
        leads && step.signum() == place.way
    }

    /// What the last note costs besides.
    fn end_cost(&self, place: LineNote) -> u32 {
        let semitone_would_do = self.steps == 1 && self.fourth_up && self.to - place.note != 1;
        if semitone_would_do { cost::NO_LEADING_NOTE } else { 0 }
    }

    /// What it costs to go on from a note to the next by a step or a third; `None` where no line goes.
    fn go_on(&self, note: i32, next: LineNote) -> Option<u32> {
        let far = (next.note - note).abs();
        if far > 1 && !self.scale.has(note) {
            return None;
        }
        let late = if far > 2 { cost::LATE_THIRD } else { 0 };
        Some(self.step(note, next)? + late)
    }

    /// What a note costs of itself, with so many notes left after it.
    fn own_cost(&self, note: i32, left: u32) -> u32 {
        let chromatic = if self.scale.has(note) { 0 } else { cost::CHROMATIC + left };
        chromatic + if note == self.to { cost::TOO_SOON } else { 0 }
    }

    /// What it costs to come to a place by step or by a third; `None` where no line goes.
    fn step(&self, from: i32, place: LineNote) -> Option<u32> {
        let far = (place.note - from).abs();
        let turns = (place.note - from).signum() != place.way;
        // The semitone between two others is passed through.
        if !self.scale.has(place.note) && (far != 1 || turns) && !self.bare {
            return None;
        }
        let of_chord = self.is_of_chord(place.note);
        let leap = match (far, of_chord) {
            (1 | 2, _) => 0,
            (_, true) => cost::THIRD,
            (_, false) => cost::FOREIGN_THIRD,
        };
        let turn = match (turns, of_chord) {
            (false, _) => 0,
            (true, true) => cost::TURN,
            (true, false) => cost::FOREIGN_TURN,
        };
        Some(leap + turn)
    }

    /// What it costs to begin a line at a place.
    fn set_off(&self, from: i32, place: LineNote) -> Option<u32> {
        let far = (place.note - from).abs();
        if far == 0 {
            if !self.scale.has(from) {
                return None;
            }
            let long = self.steps > 3;
            return Some(if long { cost::AGAIN_IN_A_LONG_LINE } else { cost::AGAIN });
        }
        // A step or a third goes as any other, and a turn is a turn after a leap as well.
        let as_any = self.step(from, place)?;
        let of_chord = self.is_of_chord(place.note);
        let third = if of_chord { cost::THIRD } else { cost::FOREIGN_THIRD };
        let leap = match (far, of_chord) {
            (1..=4, _) => return Some(as_any),
            (5 | 7, true) => cost::FIFTH,
            (5 | 7, false) => cost::FOREIGN_FIFTH,
            (12, true) => cost::OCTAVE,
            _ => cost::AWKWARD + cost::SEMITONE * far.unsigned_abs(),
        };
        Some(leap + as_any - third)
    }

    const fn is_of_chord(&self, note: i32) -> bool {
        self.chord_bits >> note.rem_euclid(12) & 1 == 1
    }
}

/// A line worked back from its end, a layer for each note and one for where it sets off: so of equals the first note
/// that differs decides, and the lower stands before the higher.
struct Back {
    from: i32,
    search: Search,
}

impl Trellis for Back {
    type Cost = u32;

    fn layers(&self) -> usize {
        self.search.steps + 1
    }

    fn states(&self, layer: usize) -> usize {
        if layer == self.search.steps {
            return 1;
        }
        self.search.states(self.search.low, self.search.high).end
    }

    fn own(&self, layer: usize, state: usize) -> u32 {
        if layer == self.search.steps {
            return 0;
        }
        let place = self.search.place(state);
        let end = match layer {
            0 if !self.search.may_end(place) => return u32::NEVER,
            0 => self.search.end_cost(place),
            _ => 0,
        };
        end + self.search.own_cost(place.note, layer as u32)
    }

    fn ways(
        &self,
        layer: usize,
        state: usize,
        before: &[u32],
    ) -> impl Iterator<Item = (usize, u32)> {
        /// Beyond a third a line has leapt, and it leaps only to set off.
        const FURTHEST: i32 = 4;
        let search = &self.search;
        let here = (layer < search.steps).then(|| search.place(state));
        let next = match here {
            Some(LineNote { note, way: 1 }) => search.states(note + 1, note + FURTHEST),
            Some(LineNote { note, .. }) => search.states(note - FURTHEST, note - 1),
            None => search.states(search.low, search.high),
        };
        next.filter_map(move |at| {
            // Most notes lead nowhere.
            let sum = before.get(at).filter(|sum| **sum != u32::NEVER)?;
            let next = search.place(at);
            let step = match here {
                Some(here) => search.go_on(here.note, next)?,
                None => search.set_off(self.from, next)?,
            };
            Some((at, sum.plus(step)))
        })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::theory::PitchName;

    fn found(key: &str, chord: &str, from: u8, to: u8, steps: usize) -> Vec<u8> {
        let (key, chord) = (Key::parse(key).unwrap(), Chord::parse(chord).unwrap());
        let note = |n| MidiNote::new(n).unwrap();
        let line = line(note(from), note(to), steps, key, &chord, 28..=55).unwrap();
        line.notes.iter().map(|n| n.get()).collect()
    }

    // Common practice, no source: the walks that every bass player and guitarist knows.
    #[test]
    fn from_1_to_4_it_goes_by_5_6_7_of_the_4() {
        assert_eq!(found("G", "G", 31, 36, 2), [33, 35], "G, A B, C");
        assert_eq!(found("G", "G", 43, 48, 3), [45, 46, 47], "G, A A# B, C");
        assert_eq!(found("G", "G", 43, 48, 4), [43, 45, 46, 47], "G, G A A# B, C");
        assert_eq!(found("D", "D", 38, 43, 2), [40, 42], "D, E F#, G");
        assert_eq!(found("A", "A", 33, 38, 3), [35, 36, 37], "A, B C C#, D");
        assert_eq!(found("Bb", "Bb", 34, 39, 2), [36, 38], "B flat, C D, E flat");
    }

    #[test]
    fn from_5_to_1_it_goes_by_the_scale_up_or_down() {
        assert_eq!(found("G", "D", 38, 43, 2), [40, 42], "D, E F#, G");
        assert_eq!(found("G", "D", 38, 43, 3), [40, 41, 42], "D, E F F#, G");
        assert_eq!(found("G", "D7", 50, 43, 3), [48, 47, 45], "D, C B A, G");
        assert_eq!(found("C", "G7", 43, 36, 3), [41, 40, 38], "G, F E D, C");
    }

    #[test]
    fn other_changes_go_as_they_do() {
        assert_eq!(found("G", "C", 48, 45, 1), [47], "C, B, A minor");
        assert_eq!(found("G", "C", 48, 45, 2), [47, 46], "C, B B flat, A minor");
        assert_eq!(found("G", "G", 43, 40, 1), [42], "G, F#, E minor");
        assert_eq!(found("G", "G", 43, 40, 2), [42, 41], "G, F# F, E minor");
        assert_eq!(found("G", "G", 43, 38, 2), [42, 40], "G, F# E, D");
        assert_eq!(found("G", "G", 43, 38, 3), [42, 40, 39], "G, F# E E flat, D");
        assert_eq!(found("G", "C", 36, 43, 2), [40, 42], "C, E F#, G");
        assert_eq!(found("G", "G", 43, 45, 1), [44], "G, G#, A");
        assert_eq!(found("Am", "Am", 45, 41, 1), [43], "A minor, G, F");
        assert_eq!(found("A mixolydian", "G", 43, 45, 1), [44], "G, G#, A");
    }

    #[test]
    fn one_note_into_a_chord_a_fourth_up_is_its_leading_note() {
        assert_eq!(found("G", "D", 33, 31, 1), [30], "D's fifth A, F#, G");
        assert_eq!(found("G", "A7", 33, 38, 1), [37], "A, C#, D");
        assert_eq!(found("C", "G", 38, 36, 1), [35], "G's fifth D, B, C");
        // The minor third of a minor chord would rub against it.
        assert_eq!(found("G", "Am", 33, 38, 1), [36], "A minor, C, D");
    }

    fn any_key() -> impl Strategy<Value = Key> {
        const HOMES: [&str; 12] = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
        const MODES: [&str; 4] = [" major", " minor", " mixolydian", " dorian"];
        (prop::sample::select(&HOMES[..]), prop::sample::select(&MODES[..]))
            .prop_filter_map("a key that is written so", |(home, mode)| {
                Key::parse(&format!("{home}{mode}")).ok()
            })
    }

    proptest! {
        #[test]
        fn every_line_arrives_by_step_within_its_range(
            key in any_key(),
            degree in 0_usize..7,
            raised in -1_i8..=1,
            quality in prop::sample::select(vec!["", "m", "7", "m7", "dim", "sus4", "maj7", "aug"]),
            from in 28_u8..=52,
            to in 31_u8..=49,
            steps in 1_usize..=8,
        ) {
            let name = key.scale()[degree];
            let root = PitchName::new(name.letter, name.accidental + raised);
            let chord = Chord::parse(&format!("{root}{quality}"));
            prop_assume!(chord.is_ok());
            let chord = chord.unwrap();
            let note = |n| MidiNote::new(n).unwrap();
            let line = line(note(from), note(to), steps, key, &chord, 28..=52).unwrap();
            prop_assert_eq!(line.notes.len(), steps);
            let all: Vec<i32> = line.notes.iter().map(|n| i32::from(n.get())).collect();
            prop_assert!(all.iter().all(|n| (28..=52).contains(n)), "{:?}", all);
            let last = (all[steps - 1] - i32::from(to)).abs();
            prop_assert!((1..=2).contains(&last), "{:?} to {}", all, to);
            let scale = Scale::of(key, &chord);
            let mut way = vec![i32::from(from)];
            way.extend(&all);
            way.push(i32::from(to));
            for three in way.windows(3) {
                // A note that is not the scale's is passed through by semitones.
                let step = |note: i32| scale.has(note) && (28..=52).contains(&note);
                let bare = ![-2, -1, 1, 2].iter().any(|by| step(i32::from(to) + by));
                if !scale.has(three[1]) && !bare {
                    let (before, after) = (three[1] - three[0], three[2] - three[1]);
                    prop_assert!(before == after && before.abs() == 1, "{:?}", way);
                }
            }
            for two in way[1..].windows(2) {
                prop_assert!((1..=4).contains(&(two[0] - two[1]).abs()), "{:?}", way);
            }
        }
    }
}
