use super::guitar::BASS_STRINGS;
use super::reach;
use super::{Frets, GUITAR, GuitarShape};
use crate::theory::{Capo, Chord, MidiNote};

/// What the thumb or pick plays on the three low strings, each with its string's index (0 the low E).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BassNotes {
    /// The root, or the slash bass.
    pub root: (usize, MidiNote),
    /// The note it alternates with: the chord's own fifth (flat or sharp where the chord has it so), or
    /// the chord's root under a slash bass where the fifth is that bass or out of reach. `None` if the
    /// hand can reach neither, which leaves the root to be repeated.
    pub fifth: Option<(usize, MidiNote)>,
}

/// Finds the bass notes of a shape that is held with the capo at a fret.
///
/// The fifth lies below the root where the hand can have it there, with one finger moved at most (in C
/// the third finger goes from the fifth string to the sixth), as it sounds better so (Grampp, "Learn
/// the Boom-Chuck Rhythm", Acoustic Guitar); else above, on another string than the root where
/// possible.
pub fn bass_strings(shape: &GuitarShape, chord: &Chord, capo: u8) -> BassNotes {
    let capo = Capo::clamped(capo);
    let string = shape.lowest_string();
    let sounding = |string: usize, fret: u8| {
        let open = GUITAR.open.get(string).copied().unwrap_or_default();
        MidiNote::clamped(i32::from(open) + i32::from(fret) + i32::from(capo.fret()))
    };
    let root = sounding(string, shape.frets.get(string).copied().flatten().unwrap_or(0));
    let nearest = |class: u8| {
        let reachable = (0..BASS_STRINGS).flat_map(|other| {
            let frets = 0..=GUITAR.frets.saturating_sub(capo.fret());
            frets.map(move |fret| (other, fret))
        });
        reachable
            .filter(|&(other, fret)| sounding(other, fret).pitch_class() == class)
            .filter(|&(other, fret)| within_hand(&shape.frets, string, other, fret))
            .min_by_key(|&(other, fret)| {
                let distance = i32::from(sounding(other, fret).get()) - i32::from(root.get());
                // Nearest below on a lower string, then nearest above, the root's own string last. Of
                // two places for one pitch, the one that is there already.
                let there = fret == 0 || is_held(&shape.frets, other, fret);
                (other == string, distance > 0, distance.abs(), !there)
            })
            .map(|(other, fret)| (other, sounding(other, fret)))
    };
    let chord_root = chord.root.pitch_class();
    let chord_fifth = (chord_root + chord.quality.fifth().unwrap_or(7)) % 12;
    let fifth = [chord_fifth, chord_root]
        .into_iter()
        .filter(|&class| class != root.pitch_class())
        .find_map(nearest);
    BassNotes { root: (string, root), fifth }
}

fn is_held(frets: &Frets<6>, string: usize, fret: u8) -> bool {
    frets.get(string).copied().flatten() == Some(fret)
}

/// True if the hand that holds `frets` can stop `string` at `fret` as well, or instead of the root.
fn within_hand(frets: &Frets<6>, root: usize, string: usize, fret: u8) -> bool {
    let with = |released: Option<usize>| {
        let mut moved = *frets;
        for (other, place) in (0..).zip(&mut moved) {
            if other == string {
                *place = Some(fret);
            } else if Some(other) == released {
                *place = None;
            }
        }
        GUITAR.reach.holds(&moved)
    };
    // An open string costs no finger, but a string stopped by a barre cannot ring open.
    let under_barre = fret == 0 && reach::barre(frets).is_some() && string > root;
    is_held(frets, string, fret) || (!under_barre && (with(None) || with(Some(root))))
}
