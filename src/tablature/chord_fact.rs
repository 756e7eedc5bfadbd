use crate::arrange::Arrangement;
use crate::theory::fretboard::banjo::{
    ClosedShape, Drone, RollShape, SHORT_STRING, closed_shapes, roll_shape, shape_root,
    short_string_fits, short_string_rings, sounding,
};
use crate::theory::{Chord, Quality};

/// What a chord of a chart means for the player's hands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChordFact {
    /// The chord as it sounds.
    pub chord: Chord,
    /// What it is called by its shape, with the capo: `G` for an A at the second fret. With the same name as
    /// the chord where there is no capo.
    pub shape: String,
    /// In how many bars it is heard.
    pub bars: usize,
    /// True if the open short string fits, so that it may be picked.
    pub rings: bool,
    /// True if it does not belong to the chord and is picked nevertheless, as a drone. If it does neither, the player
    /// needs closed positions on the four long strings, or leaves the short one out.
    pub drones: bool,
    /// How far the short string's note lies above the root, in semitones.
    pub above: u8,
    /// The chord low on the neck, as it is rolled on.
    pub low: RollShape,
    /// Its closed positions, from low to high.
    pub closed: Vec<ClosedShape>,
}

impl ChordFact {
    /// Of a chord with the banjo's capo at a fret, heard in some bars, for a player who lets the short string ring
    /// as `drone` says.
    pub fn new(chord: Chord, capo: u8, drone: Drone, bars: usize) -> Self {
        let class = sounding(SHORT_STRING, 0, capo).pitch_class();
        let mut shape = shape_root(&chord, capo).to_string();
        shape.push_str(chord.quality.name());
        let rings = short_string_fits(&chord, capo);
        Self {
            chord,
            shape,
            bars,
            rings,
            drones: !rings && short_string_rings(&chord, capo, drone),
            above: (class + 12 - chord.root.pitch_class()) % 12,
            low: roll_shape(&chord, capo),
            closed: closed_shapes(&chord, capo),
        }
    }

    /// The closed position to learn first: the lowest in which the hand need not stretch.
    pub fn first_closed(&self) -> Option<&ClosedShape> {
        self.closed.iter().min_by_key(|shape| (shape.span().max(2), shape.position()))
    }

    /// What the open short string does: `rings: the fifth of C`, `drones: the fourth of D`, `clashes: the flat ninth
    /// of F#m`.
    pub fn says(&self) -> String {
        let does = match (self.rings, self.drones) {
            (true, _) => "rings",
            (false, true) => "drones",
            (false, false) => "clashes",
        };
        let is_bass = self.chord.bass.is_some_and(|bass| {
            bass.pitch_class() == (self.chord.root.pitch_class() + self.above) % 12
        });
        let belongs = self.chord.quality.intervals().contains(&self.above);
        if is_bass && !belongs {
            return format!("{does}: the bass note of {}", self.chord);
        }
        let plain = Chord::new(self.chord.root, self.chord.quality);
        format!("{does}: the {} of {plain}", degree_word(self.above, self.chord.quality))
    }
}

/// What musicians call the note so many semitones above the root of such a chord, 0 to 11.
pub fn degree_word(above: u8, quality: Quality) -> &'static str {
    let minor = quality.is_minor();
    match above % 12 {
        0 => "root",
        1 => "flat ninth",
        2 => "ninth",
        3 if minor => "third",
        3 if quality.third().is_some() && quality.intervals().contains(&3) => "sharp ninth",
        3 => "minor third",
        4 if minor => "major third",
        4 => "third",
        5 => "fourth",
        6 if quality.fifth() == Some(6) => "flat fifth",
        6 => "sharp fourth",
        7 => "fifth",
        8 if quality.fifth() == Some(8) => "sharp fifth",
        8 => "flat sixth",
        9 if quality.seventh() == Some(9) => "seventh",
        9 => "sixth",
        10 => "flat seventh",
        _ => "major seventh",
    }
}

/// Each chord of the bars given, once, in the order in which it first comes.
pub fn chord_facts<'a>(
    song: &'a Arrangement,
    bars: impl Iterator<Item = &'a crate::arrange::Bar>,
    capo: u8,
) -> Vec<ChordFact> {
    let mut seen: Vec<(Chord, usize)> = Vec::new();
    for bar in bars {
        let mut here: Vec<Chord> = Vec::new();
        for span in song.spans.get(bar.spans.clone()).unwrap_or_default() {
            let Some(chord) = span.chord.and_then(|id| song.chord(id)) else { continue };
            if !here.contains(chord) {
                here.push(*chord);
            }
        }
        for chord in here {
            match seen.iter_mut().find(|(other, _)| *other == chord) {
                Some((_, bars)) => *bars += 1,
                None => seen.push((chord, 1)),
            }
        }
    }
    seen.into_iter().map(|(chord, bars)| ChordFact::new(chord, capo, song.drone, bars)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_short_string_is_named_by_what_it_is_to_the_chord() {
        // That the G is the root of G, the fifth of C, the third of E minor and the fourth of D is how
        // scales are counted.
        for (symbol, capo, says) in [
            ("G", 0, "rings: the root of G"),
            ("C", 0, "rings: the fifth of C"),
            ("Em", 0, "rings: the third of Em"),
            ("D", 0, "clashes: the fourth of D"),
            ("D/G", 0, "rings: the bass note of D"),
            ("A7", 0, "rings: the flat seventh of A7"),
            ("A", 0, "clashes: the flat seventh of A"),
            ("F", 0, "rings: the ninth of F"),
            ("E", 0, "clashes: the minor third of E"),
            ("F#m", 0, "clashes: the flat ninth of F#m"),
            ("A", 2, "rings: the root of A"),
            ("E", 2, "clashes: the fourth of E"),
        ] {
            let fact = ChordFact::new(Chord::parse(symbol).unwrap(), capo, Drone::Fits, 1);
            let expected = says.replace("bass note of D", "bass note of D/G");
            assert_eq!(fact.says(), expected, "{symbol} capo {capo}");
        }
    }

    #[test]
    fn what_drones_is_told_from_what_belongs() {
        let says =
            |symbol, drone| ChordFact::new(Chord::parse(symbol).unwrap(), 0, drone, 1).says();
        assert_eq!(says("D", Drone::Rings), "drones: the fourth of D");
        assert_eq!(says("D", Drone::Fits), "clashes: the fourth of D");
        assert_eq!(says("G", Drone::Rings), "rings: the root of G");
        assert_eq!(says("F#m", Drone::Rings), "clashes: the flat ninth of F#m");
    }
}
