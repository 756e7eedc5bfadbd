use super::{Key, Mode};

/// A capo: every shape sounds its number of semitones higher than it looks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Capo(u8);

impl Capo {
    /// The highest fret a capo is put on: past it a guitar's body is in the way of the hand.
    pub const MAX: u8 = 12;

    /// At a fret, 0 for none; `None` past [`Capo::MAX`].
    pub const fn new(fret: u8) -> Option<Self> {
        if fret <= Self::MAX { Some(Self(fret)) } else { None }
    }

    /// At a fret, held to 0..=12.
    pub const fn clamped(fret: u8) -> Self {
        Self(if fret <= Self::MAX { fret } else { Self::MAX })
    }

    /// The fret, 0 for none.
    pub const fn fret(self) -> u8 {
        self.0
    }

    /// The pitch class that a shape sounds: shape + fret, mod 12.
    pub const fn sounding(self, shape: u8) -> u8 {
        (shape + self.0) % 12
    }

    /// The pitch class of the shape that sounds so: sounding − fret, mod 12.
    pub const fn shape(self, sounding: u8) -> u8 {
        (sounding % 12 + 12 - self.0) % 12
    }
}

/// How gladly a player plays out of the shapes of a key: the less the gladder. Pitch class of the
/// shape's tonic, cost. Common practice, no source.
type Shapes = [(u8, u32)];

const C: u8 = 0;
const D: u8 = 2;
const E: u8 = 4;
const G: u8 = 7;
const A: u8 = 9;

/// G shapes have both bass runs and ringing strings at hand, C and D lose a string or two, A and E
/// have their tonic chord in the same few frets as everything else.
const MAJOR: &Shapes = &[(G, 0), (C, 5), (D, 10), (A, 15), (E, 20)];

/// Their minor tonics are open chords, and so are the chords about them.
const MINOR: &Shapes = &[(A, 0), (E, 0), (D, 8)];

/// The flat seventh is the chord that a modal tune leans on: it is open in A (G), E (D) and D (C); in
/// G it is F and in C it is B flat, both barred.
const MIXOLYDIAN: &Shapes = &[(A, 0), (E, 5), (D, 5), (G, 12), (C, 15)];

/// What each fret of the capo costs beside those: two frets are worth less than a better family of
/// shapes, five are worth more.
const FRET: u32 = 4;

/// Above the seventh the strings are too short to sound like a guitar behind a singer.
const HIGHEST: u8 = 7;

/// The capo a backup guitarist would choose for the key: 0 for none, 7 at most. G shapes in A (2),
/// B flat (3) and B (4), D shapes in E (2) and F (3), A shapes for A mixolydian (0). Common practice,
/// no source; the order of preference stands in the table of this file.
pub fn choose_capo(key: Key) -> u8 {
    let shapes = match key.mode {
        Mode::Major => MAJOR,
        Mode::Minor | Mode::Dorian => MINOR,
        Mode::Mixolydian => MIXOLYDIAN,
    };
    let cost = |capo: &Capo| {
        let shape = capo.shape(key.tonic.pitch_class());
        let (_, liked) = shapes.iter().find(|(family, _)| *family == shape)?;
        Some(liked + FRET * u32::from(capo.fret()))
    };
    // Of equals the lower.
    let capos = (0..=HIGHEST).map(Capo);
    capos.filter_map(|capo| Some((cost(&capo)?, capo.fret()))).min().map_or(0, |(_, fret)| fret)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::{Letter, PitchName};

    fn class(text: &str) -> u8 {
        PitchName::read(text).unwrap().0.pitch_class()
    }

    #[test]
    fn shapes_sound_higher_by_the_capo() {
        // Computed from equal temperament: one fret, one semitone.
        for (shape, sounding) in [
            ("G", "Ab A Bb B C C# D"),
            ("C", "C# D Eb E F F# G"),
            ("D", "Eb E F F# G Ab A"),
            ("A", "Bb B C C# D Eb E"),
            ("E", "F F# G Ab A Bb B"),
        ] {
            for (fret, name) in (1..).zip(sounding.split(' ')) {
                let capo = Capo::new(fret).unwrap();
                assert_eq!(capo.sounding(class(shape)), class(name), "{shape} at {fret}");
                assert_eq!(capo.shape(class(name)), class(shape));
            }
        }
        assert_eq!(Capo::new(13), None);
        assert_eq!(Capo::clamped(200).fret(), 12);
    }

    #[test]
    fn a_player_would_choose_it() {
        // Common practice, no source.
        for (keys, fret) in [
            ("G,C,D,Am,Em,Dm,A mixolydian,E dorian,D mixolydian,A dorian,G mixolydian", 0),
            ("Ab,Eb,Fm,Bbm,Ebm,F mixolydian", 1),
            ("A,E,Bm,F#m,B mixolydian", 2),
            ("Bb,F,Cm,Gm,C mixolydian", 3),
            ("B,C#m", 4),
        ] {
            for key in keys.split(',') {
                assert_eq!(choose_capo(Key::parse(key).unwrap()), fret, "{key}");
            }
        }
    }

    #[test]
    fn every_key_has_one() {
        for class in 0..12 {
            for mode in Mode::ALL {
                let tonic = Letter::ALL
                    .into_iter()
                    .flat_map(|letter| [0, 1].map(|accidental| PitchName::new(letter, accidental)))
                    .find(|name| name.pitch_class() == class)
                    .unwrap();
                let fret = choose_capo(Key { tonic, mode });
                assert!(fret <= HIGHEST);
                let shape = Capo::clamped(fret).shape(class);
                assert!([C, D, E, G, A].contains(&shape), "{tonic} {mode:?}");
            }
        }
    }
}
