use crate::theory::{Capo, Key, Mode};

/// How gladly a banjo player plays out of the shapes of a key: pitch class of the shape's tonic, cost.
/// Common practice, no source.
type Shapes = [(u8, u32)];

/// The tuning is a G chord, and in G every open string belongs to it. In C the short string is the
/// fifth; in D it is no chord tone at all.
const MAJOR: &Shapes = &[(G, 0), (C, 5), (D, 14)];

/// The minor keys that share those notes: E minor and A minor have open strings in every chord.
const MINOR: &Shapes = &[(E, 0), (A, 5), (D, 14)];

const C: u8 = 0;
const D: u8 = 2;
const E: u8 = 4;
const G: u8 = 7;
const A: u8 = 9;

/// What each fret of the capo costs beside those.
const FRET: u32 = 4;

/// The short string is raised with the capo, by a hook or a capo of its own, and those reach five frets:
/// the strings would be too thin above anyway.
const HIGHEST: u8 = 5;

/// The capo that a banjo player would choose for the key: 0 for none, 5 at most. G shapes in A (2),
/// B flat (3) and B (4), C shapes in D (2) and E flat (3). Common practice, no source; the order of
/// preference stands in the table of this file. It has nothing to do with the guitar's.
pub fn choose_banjo_capo(key: Key) -> u8 {
    let shapes = match key.mode {
        Mode::Major | Mode::Mixolydian => MAJOR,
        Mode::Minor | Mode::Dorian => MINOR,
    };
    let cost = |fret: &u8| {
        let shape = Capo::clamped(*fret).shape(key.tonic.pitch_class());
        let (_, liked) = shapes.iter().find(|(family, _)| *family == shape)?;
        Some(liked + FRET * u32::from(*fret))
    };
    // Of equals the lower.
    (0..=HIGHEST).filter_map(|fret| Some((cost(&fret)?, fret))).min().map_or(0, |(_, fret)| fret)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_player_would_choose_it() {
        // Common practice, no source.
        for (keys, fret) in [
            ("G,C,Em,Am,G mixolydian,E dorian", 0),
            ("Ab,C#,Bbm", 1),
            ("A,D,A mixolydian,F#m,Bm", 2),
            ("Bb,Eb,Gm", 3),
            ("B,E,C#m", 4),
            ("F", 5),
        ] {
            for key in keys.split(',') {
                assert_eq!(choose_banjo_capo(Key::parse(key).unwrap()), fret, "{key}");
            }
        }
    }

    #[test]
    fn every_key_is_played_out_of_one_of_those_shapes() {
        for mode in Mode::ALL {
            let home = Key { mode, ..Key::parse("C").unwrap() };
            for up in 0..12 {
                let key = home.moved(up);
                let capo = Capo::clamped(choose_banjo_capo(key));
                let shape = capo.shape(key.tonic.pitch_class());
                assert!(capo.fret() <= HIGHEST && [C, D, E, G, A].contains(&shape), "{key}");
            }
        }
    }
}
