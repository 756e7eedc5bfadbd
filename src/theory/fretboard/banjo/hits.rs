use super::ways::{Places, ways};
use super::{BanjoHand, LONG_STRINGS, VampShape, Way, number_at};

/// Why a whole chord is pinched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hit {
    /// As part of the groove: rather fewer strings than none of what stands beside it.
    Groove,
    /// With the whole band, at a stop or the end: what stands beside it makes room.
    Together,
}

/// Which strings thumb, index and middle finger pinch, by their numbers, best first: the thumb on the
/// fourth has the widest sound.
const TRIPLES: [[u8; 3]; 3] = [[4, 2, 1], [3, 2, 1], [4, 3, 1]];

impl Hit {
    /// What a string left out costs, and silence.
    const fn costs(self) -> (u32, u32) {
        match self {
            Self::Groove => (12, 60),
            Self::Together => (60, 1000),
        }
    }
}

impl VampShape {
    /// The ways to pinch the shape.
    pub fn pinch(&self, hit: Hit) -> Vec<Way> {
        let (fewer, nothing) = hit.costs();
        let wanted: Vec<Places> = (0..LONG_STRINGS)
            .zip(self.frets)
            .filter_map(|(place, fret)| Some(vec![(number_at(place), fret?, 0)]))
            .collect();
        ways(&wanted, false, fewer, nothing)
    }
}

/// The ways to pinch the chord in low position: three strings that have the root and as many of its
/// tones as three can.
pub fn pinch(hand: &BanjoHand, hit: Hit) -> Vec<Way> {
    let (fewer, nothing) = hit.costs();
    // A seventh has a tone more than fingers: rather the fifth is left out than the root.
    let tones = |triple: &[u8; 3]| {
        let notes = triple.iter().filter_map(|&number| hand.note(number));
        let classes = notes.fold(0_u16, |bits, note| bits | 1 << note.pitch_class());
        let root = (hand.root + hand.shape().capo) % 12;
        (classes >> root & 1, classes.count_ones())
    };
    // Of equals the first.
    let best = TRIPLES.into_iter().rev().max_by_key(tones).unwrap_or([4, 2, 1]);
    let wanted: Vec<Places> =
        best.into_iter().filter_map(|number| Some(vec![(number, hand.fret(number)?, 0)])).collect();
    ways(&wanted, false, fewer, nothing)
}
