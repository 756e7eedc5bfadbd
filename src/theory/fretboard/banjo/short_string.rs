use std::fmt;

use super::{SHORT_STRING, sounding};
use crate::theory::Chord;

/// What a player does with the short string where its note is no part of the chord.
///
/// Most let it ring on over the chord a fifth above it, over D in G, as the drone that it is; some leave it out there
/// (common practice, no source). Neither picks it a semitone beside a tone of the chord that sounds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Drone {
    /// It rings wherever no tone of the chord that sounds lies a semitone beside it.
    #[default]
    Rings,
    /// It rings where it fits the chord, and is left out elsewhere.
    Fits,
}

impl Drone {
    /// Both, as the documents list them.
    pub const ALL: [Self; 2] = [Self::Rings, Self::Fits];

    /// The word that songs and options use.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Rings => "rings",
            Self::Fits => "fits",
        }
    }

    /// From its word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|drone| drone.as_str() == word)
    }
}

impl fmt::Display for Drone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// True if the open short string may be picked over the chord, with the capo at a fret: if it fits, or where it may
/// drone if no tone of the chord lies a semitone beside it. Over the chord whose fourth it is, D in G, one does, the
/// third: there it rings over the chord without its third, as [`low_shape`](super::low_shape) has it.
pub fn short_string_rings(chord: &Chord, capo: u8, drone: Drone) -> bool {
    if short_string_fits(chord, capo) {
        return true;
    }
    let class = sounding(SHORT_STRING, 0, capo).pitch_class();
    drone == Drone::Rings
        && (drops_third(chord, capo) || !chord.pitch_classes().any(|tone| beside(tone, class)))
}

/// True if the chord is the one a fifth above the short string's, with a third that would clash: it rings there only
/// over the root, the fifth and the seventh.
pub(super) fn drops_third(chord: &Chord, capo: u8) -> bool {
    const FOURTH: u8 = 5;
    let class = sounding(SHORT_STRING, 0, capo).pitch_class();
    let root = chord.root.pitch_class();
    let third = (root + 4) % 12;
    let others = chord.pitch_classes().filter(|tone| *tone != third);
    (class + 12 - root % 12) % 12 == FOURTH
        && chord.quality.third() == Some(4)
        && chord.quality.fifth() == Some(7)
        && !others.into_iter().any(|tone| beside(tone, class))
        // A bass player holds the third of D/F# a semitone below the G.
        && chord.bass_class() != third
}

const fn beside(tone: u8, class: u8) -> bool {
    matches!((tone + 12 - class) % 12, 1 | 11)
}

/// True if the open short string fits the chord, with the capo at a fret: if it is a tone of the chord,
/// or its added sixth or ninth where nothing in the chord clashes with that.
///
/// So the G rings with G, C and E minor as a chord tone, with B flat as the sixth and with F as the
/// ninth; it does not fit D, whose fourth it is, nor A or F sharp. That it fits G and C and not
/// D is common practice, no source, and so is the rule: sixth and ninth colour a chord that has a perfect
/// fifth and no minor third, unless they lie a semitone beside one of its tones or the slash bass.
pub fn short_string_fits(chord: &Chord, capo: u8) -> bool {
    let class = sounding(SHORT_STRING, 0, capo).pitch_class();
    chord.contains(class) || is_colour(chord, class)
}

fn is_colour(chord: &Chord, class: u8) -> bool {
    const SIXTH: u8 = 9;
    const NINTH: u8 = 2;
    let above = (class + 12 - chord.root.pitch_class() % 12) % 12;
    let quality = chord.quality;
    matches!(above, SIXTH | NINTH)
        && quality.fifth() == Some(7)
        && !quality.is_minor()
        && !chord.pitch_classes().any(|tone| beside(tone, class))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rings(symbol: &str, capo: u8, drone: Drone) -> bool {
        short_string_rings(&Chord::parse(symbol).unwrap(), capo, drone)
    }

    #[test]
    fn it_rings_where_it_fits() {
        // That it fits G and C and not D: common practice, no source.
        for symbol in ["G", "C", "Em", "Am7", "G7", "C7", "Eb", "F", "Bb", "Dsus4", "A7sus4", "D/G"]
        {
            assert!(rings(symbol, 0, Drone::Fits), "{symbol}");
        }
        for symbol in ["D", "D7", "A", "F#", "Bm", "B7", "E", "Am", "Bb7", "Fm", "Dm"] {
            assert!(!rings(symbol, 0, Drone::Fits), "{symbol}");
        }
    }

    #[test]
    fn it_drones_where_nothing_lies_a_semitone_beside_it() {
        // That most let it ring over D: common practice, no source.
        for symbol in ["D", "D7", "A", "A7", "Am", "Dm", "G", "C"] {
            assert!(rings(symbol, 0, Drone::Rings), "{symbol}");
        }
        // F sharp and G sharp, and A flat.
        for symbol in ["F#", "Bm", "B7", "E", "Fm", "Dmaj7/F#"] {
            assert!(!rings(symbol, 0, Drone::Rings), "{symbol}");
        }
    }

    #[test]
    fn it_goes_up_with_the_capo() {
        let fits = |symbol, capo| rings(symbol, capo, Drone::Fits);
        assert!(fits("A", 2) && fits("D", 2) && !fits("E", 2) && !fits("B", 2));
        assert!(fits("Bb", 3) && !fits("F7", 3));
        assert!(rings("E", 2, Drone::Rings), "a D shape");
    }
}
