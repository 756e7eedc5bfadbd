use super::{Chord, Key, MidiNote};

/// The pitch classes that a line may step on, one bit each, C in the lowest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Scale(u16);

impl Scale {
    /// The key's scale, bent to the chord of the moment: a chord tone that the key does not have
    /// takes the place of the key's note of the same letter (over E7 in G, G sharp for G).
    pub fn of(key: Key, chord: &Chord) -> Self {
        let mut degrees = key.scale().map(|name| (name.letter, name.pitch_class()));
        for &interval in chord.quality.intervals() {
            let letter = chord.root.letter.step(letter_steps(interval));
            let class = (chord.root.pitch_class() + interval) % 12;
            if let Some(degree) = degrees.iter_mut().find(|(other, _)| *other == letter) {
                degree.1 = class;
            }
        }
        Self(degrees.iter().fold(0, |bits, (_, class)| bits | 1 << class))
    }

    /// True if the scale has the note.
    pub const fn has(self, note: i32) -> bool {
        self.0 >> note.rem_euclid(12) & 1 == 1
    }

    /// The scale's next note below (`way` −1) or above (+1), at most a whole tone away; where the
    /// scale leaps further, as in a harmonic minor, the semitone.
    fn step(self, from: i32, way: i32) -> i32 {
        (1..=2).map(|far| from + way * far).find(|&note| self.has(note)).unwrap_or(from + way)
    }
}

/// How many letters above the root a chord tone is spelled, by its semitones.
const fn letter_steps(interval: u8) -> i32 {
    match interval {
        0 => 0,
        1 | 2 => 1,
        3 | 4 => 2,
        5 => 3,
        6..=8 => 4,
        9 => 5,
        _ => 6,
    }
}

/// A line of `steps` notes that moves by step and arrives on `to` with the note after its last. It
/// comes from below or above, whichever leaves `from` by the smaller leap, and stays within `range`.
/// Where even that leap is a tritone or wider than a fifth, a line of two notes or more begins on a
/// tone of `chord` on the way instead: no bass player sets off by such a leap (common practice, no
/// source).
///
/// Its last note is a semitone or a whole tone from `to`, always.
pub fn walk(
    from: MidiNote,
    to: MidiNote,
    steps: usize,
    key: Key,
    chord: &Chord,
    range: std::ops::RangeInclusive<u8>,
) -> Vec<MidiNote> {
    let scale = Scale::of(key, chord);
    let from = i32::from(from.get());
    let inside = |note: i32| u8::try_from(note).is_ok_and(|n| range.contains(&n));
    let line = |mut way: i32| -> Vec<i32> {
        let mut notes = vec![0; steps];
        let mut at = i32::from(to.get());
        for note in notes.iter_mut().rev() {
            // At the end of the neck the line turns round.
            if !inside(scale.step(at, way)) {
                way = -way;
            }
            at = scale.step(at, way);
            *note = at;
        }
        notes
    };
    let cost = |notes: &[i32]| -> i32 {
        /// Standing still for a step is worth about a leap of a third: the line should set off at once.
        const REPEAT: i32 = 4;
        let leap = notes.first().map_or(0, |first| (first - from).abs());
        if leap == 0 { REPEAT } else { leap }
    };
    let (below, above) = (line(-1), line(1));
    let mut chosen = if cost(&below) <= cost(&above) { below } else { above };
    if let [first, second, ..] = chosen.as_mut_slice()
        && is_awkward(*first - from)
    {
        let tone = |note: &i32| chord.tones().any(|class| i32::from(class) == note.rem_euclid(12));
        let way = (*second).min(from)..=(*second).max(from);
        let middle = (*second + from) / 2;
        let between = way.filter(|note| tone(note) && *note != from && *note != *second);
        let smooth = between.filter(|note| !is_awkward(note - from) && !is_awkward(note - *second));
        *first = smooth.min_by_key(|note| (note - middle).abs()).unwrap_or(*first);
    }
    chosen.into_iter().map(MidiNote::clamped).collect()
}

/// A tritone, or wider than a fifth.
const fn is_awkward(leap: i32) -> bool {
    leap.abs() == 6 || leap.abs() > 7
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(key: &str, chord: &str, from: u8, to: u8, steps: usize) -> Vec<u8> {
        let (key, chord) = (Key::parse(key).unwrap(), Chord::parse(chord).unwrap());
        let note = |n| MidiNote::new(n).unwrap();
        walk(note(from), note(to), steps, key, &chord, 28..=50).iter().map(|n| n.get()).collect()
    }

    // Common practice, no source: the walks every bass player knows.
    #[test]
    fn walks_between_the_chords_of_g() {
        assert_eq!(line("G", "G", 31, 36, 2), [33, 35], "G, A B, C");
        assert_eq!(line("G", "G", 43, 36, 2), [40, 38], "G, E D, C");
        assert_eq!(line("G", "C", 36, 43, 2), [40, 42], "C, E F#, G");
        assert_eq!(line("G", "D", 38, 43, 2), [40, 42], "D, E F#, G");
        assert_eq!(line("G", "D7", 38, 31, 3), [36, 35, 33], "D, C B A, G");
    }

    #[test]
    fn a_chord_tone_bends_the_scale() {
        // E7 in G brings G sharp, and the line up to A uses it.
        assert_eq!(line("G", "E7", 40, 45, 2), [42, 44]);
    }

    #[test]
    fn it_sets_off_by_no_tritone() {
        // Down from the flat seven of A mixolydian, where G, C sharp B, A would leap a tritone.
        assert_eq!(line("A mixolydian", "G", 43, 33, 2), [38, 35], "G, D B, A");
    }

    #[test]
    fn it_turns_back_at_the_end_of_the_range() {
        assert_eq!(line("E", "B", 35, 28, 1), [30]);
        // As long a run as there may be: down to the open string and up again.
        let long = line("E", "B", 35, 30, 8);
        assert!(long.iter().all(|note| (28..=50).contains(note)), "{long:?}");
    }
}
