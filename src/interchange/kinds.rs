//! What kind of tune it is: the style and the tempo that it goes by where the file gives none.

use crate::time::Meter;

/// A kind of tune in a meter, with what the band plays to it.
struct Kind {
    /// Words that a file or a title calls it by, in small letters.
    words: &'static [&'static str],
    /// The meter of the chart.
    meter: Meter,
    /// The backing style.
    style: &'static str,
    /// Beats a minute.
    tempo: f64,
}

const fn kind(
    words: &'static [&'static str],
    meter: Meter,
    style: &'static str,
    tempo: f64,
) -> Kind {
    Kind { words, meter, style, tempo }
}

const DANCE: &[&str] = &["reel", "breakdown", "hoedown"];
const SLOW: &[&str] = &["air", "lament", "slow", "planxty", "ballad", "lullaby", "hymn"];
const MARCH: &[&str] = &["march", "quickstep", "two-step", "two step"];
const SCHOTTISCHE: &[&str] =
    &["hornpipe", "schottische", "clog", "fling", "barndance", "barn dance"];
const STRATHSPEY: &[&str] = &["strathspey"];

/// The tempos are those that each kind is danced or sung at (common practice, no source); each lies within its
/// style's own.
const KINDS: &[Kind] = &[
    kind(DANCE, Meter::TwoTwo, "breakdown", 104.0),
    kind(DANCE, Meter::FourFour, "breakdown", 200.0),
    kind(DANCE, Meter::TwoFour, "boom-chick", 104.0),
    kind(SCHOTTISCHE, Meter::TwoTwo, "lope", 84.0),
    kind(SCHOTTISCHE, Meter::FourFour, "lope", 160.0),
    kind(SCHOTTISCHE, Meter::TwoFour, "boom-chick", 80.0),
    kind(STRATHSPEY, Meter::FourFour, "old-time", 128.0),
    kind(STRATHSPEY, Meter::TwoTwo, "old-time", 84.0),
    kind(&["polka", "galop"], Meter::TwoFour, "polka", 120.0),
    kind(MARCH, Meter::TwoFour, "boom-chick", 104.0),
    kind(MARCH, Meter::FourFour, "boom-chick", 108.0),
    kind(MARCH, Meter::TwoTwo, "boom-chick", 100.0),
    kind(SLOW, Meter::FourFour, "slow", 72.0),
    kind(SLOW, Meter::ThreeFour, "slow", 76.0),
    kind(SLOW, Meter::TwoTwo, "boom-chick", 60.0),
    kind(SLOW, Meter::TwoFour, "boom-chick", 66.0),
    kind(SLOW, Meter::SixEight, "jig", 80.0),
    kind(&["jig", "slide", "quadrille"], Meter::SixEight, "jig", 112.0),
    kind(&["slip", "hop"], Meter::ThreeFour, "waltz", 116.0),
    kind(&["waltz", "mazurka", "varsovienne", "minuet"], Meter::ThreeFour, "waltz", 126.0),
    // What is left goes by its meter alone.
    kind(&[], Meter::FourFour, "boom-chick", 108.0),
    kind(&[], Meter::TwoTwo, "old-time", 96.0),
    kind(&[], Meter::TwoFour, "boom-chick", 100.0),
    kind(&[], Meter::ThreeFour, "waltz", 112.0),
    kind(&[], Meter::SixEight, "jig", 104.0),
];

/// Style, tempo in beats of the meter, and the word that they were chosen by, if there was one.
pub(super) fn kind_of(
    rhythm: Option<&str>,
    title: &str,
    meter: Meter,
) -> (&'static str, f64, Option<&'static str>) {
    let lower = |text: &str| text.to_lowercase();
    for text in [rhythm.map(lower), Some(lower(title))].into_iter().flatten() {
        // The longest word says most: a slow air is no march.
        for kind in KINDS.iter().filter(|kind| kind.meter == meter) {
            if let Some(word) = kind.words.iter().find(|word| names(&text, word)) {
                return (kind.style, kind.tempo, Some(word));
            }
        }
    }
    let plain = KINDS.iter().find(|kind| kind.meter == meter && kind.words.is_empty());
    plain.map_or(("boom-chick", 100.0, None), |kind| (kind.style, kind.tempo, None))
}

/// True if a word stands in a text by itself, or as more than one: the stairs are no air.
fn names(text: &str, word: &str) -> bool {
    text.match_indices(word).any(|(at, _)| {
        let (before, after) = (text.get(..at), text.get(at + word.len()..));
        let rest = after.unwrap_or_default().split(|c: char| !c.is_alphabetic()).next();
        !before.is_some_and(|before| before.ends_with(char::is_alphabetic))
            && matches!(rest, None | Some("" | "s" | "es"))
    })
}

/// Every style that a tune can be given.
pub fn styles_given() -> impl Iterator<Item = (&'static str, Meter, f64)> {
    KINDS.iter().map(|kind| (kind.style, kind.meter, kind.tempo))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kind_is_told_by_words_of_their_own() {
        let style = |title: &str| kind_of(None, title, Meter::ThreeFour).0;
        assert_eq!(style("Toll at the Ferry Stairs"), "waltz");
        assert_eq!(style("The Repair Yard"), "waltz");
        assert_eq!(style("Slower than the Tide"), "waltz");
        assert_eq!(style("An Air for the Ferry"), "slow");
        assert_eq!(style("Two slow-airs"), "slow");
        assert_eq!(kind_of(Some("Reels"), "The Stairs", Meter::FourFour).0, "breakdown");
        assert_eq!(kind_of(Some("waltzes"), "", Meter::ThreeFour).2, Some("waltz"));
    }
}
