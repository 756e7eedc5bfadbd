//! How something that was noticed is told: how much it matters, in which words, in which bars.

use super::priorities::weight;
use super::{Finding, Part};

/// Something to be worked on, of which there is so much, from 0 to 1.
pub(super) fn bad(about: Part, how_much: f64, words: String) -> Option<Finding> {
    Some(Finding { about, good: false, weight: weight(about, how_much), words, bars: Vec::new() })
}

/// Something that goes well.
pub(super) fn good(about: Part, weight: f64, words: String) -> Option<Finding> {
    Some(Finding { about, good: true, weight, words, bars: Vec::new() })
}

/// With the bars in which it shows, by their numbers.
pub(super) fn in_bars(
    found: Option<Finding>,
    bars: impl Iterator<Item = usize>,
) -> Option<Finding> {
    let mut bars: Vec<usize> = bars.filter(|bar| *bar > 0).collect();
    bars.sort_unstable();
    let mut ranges: Vec<(usize, usize)> = Vec::new();
    for bar in bars {
        match ranges.last_mut() {
            Some((_, last)) if bar <= *last + 1 => *last = bar,
            _ => ranges.push((bar, bar)),
        }
    }
    found.map(|found| Finding { bars: ranges, ..found })
}

/// Bars in words, the first few by number: "bar 3", "bars 3, 5 and 9", "bars 3, 5, 9, 11 and 4 more".
pub(super) fn bars_told(numbers: &[usize]) -> String {
    const NAMED: usize = 4;
    let named = numbers.get(..NAMED).unwrap_or(numbers);
    let named: Vec<String> = named.iter().map(ToString::to_string).collect();
    let word = if numbers.len() == 1 { "bar" } else { "bars" };
    match numbers.len().checked_sub(NAMED) {
        Some(more @ 1..) => format!("{word} {} and {more} more", named.join(", ")),
        _ => format!("{word} {}", crate::text::list(&named, "and")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_are_told_in_ranges_and_in_words() {
        let found = in_bars(bad(Part::Chords, 0.5, String::new()), [9, 3, 4, 0, 5, 5].into_iter());
        assert_eq!(found.unwrap().bars, [(3, 5), (9, 9)]);
        assert_eq!(bars_told(&[3]), "bar 3");
        assert_eq!(bars_told(&[3, 5, 9]), "bars 3, 5 and 9");
        assert_eq!(bars_told(&[3, 5, 9, 11, 12, 13]), "bars 3, 5, 9, 11 and 2 more");
    }
}
