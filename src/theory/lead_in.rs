use super::{Chord, Key, Mode, Scale};

/// The pitch classes, so many as `steps`, that lead from one chord into another: on the way along the
/// scale from the root of the one to the root of the other, by the shorter way, up if both are the same.
/// Where the other root is but a step off, the way goes on past it. None where the roots are the same.
///
/// A single note is the first of the way: an A leads G into C, a D leads C into D. Several arrive: A B
/// from G to C, D E from C to D, and from further back than the root if they are more than lie between. The
/// scale is the key's, bent to the first chord; of a major chord whose third the key does not have, as of A7
/// in F, that of the key it leads to. That an A leads G into C, and a D or an E leads C into
/// D, is common practice, no source; so is the rule.
pub fn lead_in(from: &Chord, to: &Chord, steps: usize, key: Key) -> Vec<u8> {
    let scale = Scale::of(key_of(from, key), from);
    let root = i32::from(from.root.pitch_class());
    let up = (i32::from(to.root.pitch_class()) - root).rem_euclid(12);
    if up == 0 || steps == 0 {
        return Vec::new();
    }
    let (way, far) = if up <= 6 { (1, up) } else { (-1, 12 - up) };
    let note = |off: i32| root + way * off;
    let mut line: Vec<i32> = (1..far).map(note).filter(|&note| scale.has(note)).collect();
    if line.is_empty() {
        // The root itself, and what the scale has after it.
        line.push(note(far));
        line.extend((far + 1..far + 12).map(note).find(|&note| scale.has(note)));
    }
    let kept = if steps == 1 { 0..1 } else { line.len().saturating_sub(steps)..line.len() };
    let missing = steps.saturating_sub(line.len());
    let mut further: Vec<i32> =
        (0..).map(|off| note(-off)).filter(|&n| n == root || scale.has(n)).take(missing).collect();
    further.reverse();
    let kept = line.get(kept).unwrap_or_default();
    further.iter().chain(kept).map(|note| note.rem_euclid(12) as u8).collect()
}

/// The key whose scale a chord has around it.
fn key_of(chord: &Chord, key: Key) -> Key {
    let third = (chord.root.pitch_class() + 4) % 12;
    let foreign = chord.quality.third() == Some(4)
        && key.scale().iter().all(|name| name.pitch_class() != third);
    if !foreign {
        return key;
    }
    // It leads a fourth up, as a seventh chord on the five does.
    Key { tonic: chord.root, mode: Mode::Mixolydian }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::PitchName;

    fn line(key: &str, from: &str, to: &str, steps: usize) -> Vec<u8> {
        let chord = |symbol| Chord::parse(symbol).unwrap();
        lead_in(&chord(from), &chord(to), steps, Key::parse(key).unwrap())
    }

    fn classes(names: &str) -> Vec<u8> {
        names.split(' ').map(|name| PitchName::read(name).unwrap().0.pitch_class()).collect()
    }

    #[test]
    fn one_note_sets_off() {
        // An A leads G into C, an E or a D leads C into D; the others likewise: common practice, no
        // source.
        for (from, to, note) in [
            ("G", "C", "A"),
            ("C", "D", "D"),
            ("D", "G", "E"),
            ("G", "Em", "F#"),
            ("C", "G", "B"),
            ("A7", "D", "B"),
            ("D7", "C", "C"),
        ] {
            assert_eq!(line("G", from, to, 1), classes(note), "{from} {to}");
        }
        assert!(line("G", "G", "G7", 1).is_empty());
    }

    #[test]
    fn several_arrive() {
        // Common practice, no source.
        for (from, to, notes) in [
            ("G", "C", "A B"),
            ("C", "D", "D E"),
            ("C", "G", "B A"),
            ("A7", "D", "B C#"),
            ("G", "Em", "G F#"),
            ("G", "C", "G A B"),
        ] {
            let steps = notes.split(' ').count();
            assert_eq!(line("G", from, to, steps), classes(notes), "{from} {to}");
        }
        assert_eq!(line("F", "A7", "D7", 2), classes("B C#"));
        assert_eq!(line("F", "A7", "D7", 1), classes("B"));
        assert_eq!(line("A mixolydian", "A", "G", 2), classes("G F#"));
    }
}
