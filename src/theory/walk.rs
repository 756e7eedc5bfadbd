use super::{Chord, Key, MidiNote, Scale, line};

/// The notes of a walk of `steps` steps that leads from `from`, in `chord`, to `to`, a root: the [`line()`]
/// that a player would like best, within `range`; back to the chord's own root the turnaround, 5 6 7 of the
/// scale.
///
/// Its last note is a semitone or a whole tone from `to`, always. Empty only if the range holds no line.
pub fn walk(
    from: MidiNote,
    to: MidiNote,
    steps: usize,
    key: Key,
    chord: &Chord,
    range: std::ops::RangeInclusive<u8>,
) -> Vec<MidiNote> {
    if to.pitch_class() == chord.bass_class()
        && let Some(notes) = turnaround(to, steps, Scale::of(key, chord))
        && notes.iter().all(|note| range.contains(&note.get()))
    {
        return notes;
    }
    line(from, to, steps, key, chord, range).map(|line| line.notes).unwrap_or_default()
}

/// The last steps of the way round from a root to itself: 5 6 7 of the scale below it, with the flat
/// seventh between the last two for a fourth step. Common practice, no source.
fn turnaround(root: MidiNote, steps: usize, scale: Scale) -> Option<Vec<MidiNote>> {
    /// Past the fifth, it is a walk like another.
    const MOST: usize = 4;
    if !(1..=MOST).contains(&steps) {
        return None;
    }
    let seventh = scale.step(i32::from(root.get()), -1);
    let sixth = scale.step(seventh, -1);
    let mut down = vec![seventh, sixth, scale.step(sixth, -1)];
    if steps == MOST {
        let between = seventh - 1;
        // Where the scale's seventh is the flat one, there is no other between it and the sixth.
        if scale.has(between) {
            return None;
        }
        down.insert(1, between);
    }
    Some(down.into_iter().take(steps).rev().map(MidiNote::clamped).collect())
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

    // Common practice, no source.
    #[test]
    fn back_to_its_own_root_it_goes_round_by_5_6_7() {
        assert_eq!(line("G", "G", 43, 43, 1), [42], "G, F#, G");
        assert_eq!(line("G", "G", 43, 43, 2), [40, 42], "G, E F#, G");
        assert_eq!(line("G", "G", 43, 43, 3), [38, 40, 42], "G, D E F#, G");
        assert_eq!(line("G", "G", 43, 43, 4), [38, 40, 41, 42], "G, D E F F#, G");
        assert_eq!(line("A mixolydian", "A", 45, 45, 3), [40, 42, 43], "A, E F# G, A");
        // Below the lowest string there is no 5 6 7; it still arrives by step.
        let low = line("E", "E", 28, 28, 3);
        assert!((1..=2).contains(&low[2].abs_diff(28)), "{low:?}");
    }

    #[test]
    fn it_turns_back_at_the_end_of_the_range() {
        assert_eq!(line("E", "B", 35, 28, 1), [30]);
        // As long a run as there may be.
        let long = line("E", "B", 35, 30, 8);
        assert!(long.iter().all(|note| (28..=50).contains(note)), "{long:?}");
    }
}
