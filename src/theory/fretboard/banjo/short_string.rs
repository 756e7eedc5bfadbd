use super::{SHORT_STRING, sounding};
use crate::theory::Chord;

/// True if the open short string fits the chord, with the capo at a fret: if it is a tone of the chord,
/// or its added sixth or ninth where nothing in the chord clashes with that.
///
/// So the G rings with G, C and E minor as a chord tone, with B flat as the sixth and with F as the
/// ninth; not with D, whose fourth it is, nor with A or F sharp. That it rings with G and C and not with
/// D is common practice, no source, and so is the rule: sixth and ninth colour a chord that has a perfect
/// fifth and no minor third, unless they lie a semitone beside one of its tones or the slash bass.
pub fn short_string_rings(chord: &Chord, capo: u8) -> bool {
    let class = sounding(SHORT_STRING, 0, capo).pitch_class();
    chord.contains(class) || is_colour(chord, class)
}

fn is_colour(chord: &Chord, class: u8) -> bool {
    const SIXTH: u8 = 9;
    const NINTH: u8 = 2;
    let above = (class + 12 - chord.root.pitch_class() % 12) % 12;
    let beside = |tone: u8| matches!((tone + 12 - class) % 12, 1 | 11);
    let quality = chord.quality;
    matches!(above, SIXTH | NINTH)
        && quality.fifth() == Some(7)
        && !quality.is_minor()
        && !chord.pitch_classes().any(beside)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rings(symbol: &str, capo: u8) -> bool {
        short_string_rings(&Chord::parse(symbol).unwrap(), capo)
    }

    #[test]
    fn it_rings_where_it_fits() {
        // That it rings with G and C and not with D: common practice, no source.
        for symbol in ["G", "C", "Em", "Am7", "G7", "C7", "Eb", "F", "Bb", "Dsus4", "A7sus4", "D/G"]
        {
            assert!(rings(symbol, 0), "{symbol}");
        }
        for symbol in ["D", "D7", "A", "F#", "Bm", "B7", "E", "Am", "Bb7", "Fm", "Dm"] {
            assert!(!rings(symbol, 0), "{symbol}");
        }
    }

    #[test]
    fn it_goes_up_with_the_capo() {
        assert!(rings("A", 2) && rings("D", 2) && !rings("E", 2) && !rings("B", 2));
        assert!(rings("Bb", 3) && !rings("F7", 3));
    }
}
