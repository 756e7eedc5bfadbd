use super::super::{Frets, class_bits, has_unison, heard_bits, reach};
use super::roll_shape::notes;
use super::{BANJO, LONG_STRINGS, RollShape};
use crate::theory::{Capo, Chord};

/// How far up a closed shape is looked for, counted from the nut: above, the strings sound thin and the
/// short string is all that is heard (common practice, no source).
const HIGHEST: u8 = 14;

/// More would only lengthen the search for the way through a chart.
const MOST: usize = 10;

/// The inversions of a chord on all four long strings, none of them open, with a capo at the given fret
/// (held to 0..=12): for rolling without the short string. The lowest on the neck first, 10 at most.
///
/// What names the chord is among their tones, in a triad the root too. A chord that lies under no hand so
/// has none.
pub fn closed_shapes(chord: &Chord, capo: u8) -> Vec<RollShape> {
    let capo = Capo::clamped(capo);
    let root = capo.shape(chord.root.pitch_class());
    let named = chord.quality.essential();
    let all = class_bits(root, chord.quality.intervals());
    let first = named.get(..2).unwrap_or(named);
    let required = class_bits(root, first) | if named.len() < 2 { 1 << root } else { 0 };
    let highest = HIGHEST.min(BANJO.frets).saturating_sub(capo.fret());
    let mut found = Vec::new();
    for low in 1..=highest {
        // The lowest finger is at `low`, and each other string has one fret or two to choose from.
        let within = |place: usize| {
            let open = BANJO.open.get(place).copied().unwrap_or_default();
            (low..=highest).filter(move |&fret| {
                BANJO.reach.spans(low, fret) && all & 1 << ((open + fret) % 12) != 0
            })
        };
        for fourth in within(0) {
            for third in within(1) {
                for second in within(2) {
                    for one in within(3) {
                        let frets: Frets<LONG_STRINGS> = [fourth, third, second, one].map(Some);
                        let sounding = notes(&frets, 0);
                        let lies = frets.contains(&Some(low)) && BANJO.reach.holds(&frets);
                        let names = heard_bits(&sounding) & required == required;
                        if lies && names && !has_unison(&sounding) {
                            let missing = (all & !heard_bits(&sounding)).count_ones();
                            let fingers = reach::fingers(&frets);
                            found.push((missing.min(2), low, fingers, frets));
                        }
                    }
                }
            }
        }
    }
    // Those that leave nothing out, then from the nut upward. Of one place on the neck what takes the
    // fewest fingers.
    found.sort_unstable();
    found.dedup_by_key(|(missing, low, ..)| (*missing, *low));
    let shapes = found.into_iter().map(|(.., frets)| RollShape { frets, capo: capo.fret() });
    shapes.take(MOST).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shapes(symbol: &str, capo: u8) -> Vec<[u8; 4]> {
        let shapes = closed_shapes(&Chord::parse(symbol).unwrap(), capo);
        shapes.iter().map(|shape| shape.frets.map(Option::unwrap_or_default)).collect()
    }

    #[test]
    fn the_three_inversions_are_there() {
        // The F shape, the D shape and the barre, moved along the neck: common practice, no source.
        for (symbol, shape) in [
            ("F", [3, 2, 1, 3]),
            ("D", [4, 2, 3, 4]),
            ("A", [2, 2, 2, 2]),
            ("D", [7, 7, 7, 7]),
            ("D", [12, 11, 10, 12]),
            ("Bm", [4, 4, 3, 4]),
        ] {
            assert!(shapes(symbol, 0).contains(&shape), "{symbol}: {:?}", shapes(symbol, 0));
        }
        assert_eq!(shapes("D", 0)[0], [4, 2, 3, 4], "the lowest first");
        assert!(shapes("E", 2).contains(&[4, 2, 3, 4]), "a D shape");
    }
}
