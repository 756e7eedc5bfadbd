//! That a song has a shape: what the band makes of a verse, a chorus and the last one.

use std::collections::BTreeSet;

use openchair::chart::{Lead, SectionPart};

use super::row::{Bound, Reading, Row, worst};
use super::take::Take;

/// The passes that a singer leads through a section that is such a part, as `(pass, bars)`.
fn sung(take: &Take, part: SectionPart) -> Vec<usize> {
    let passes = take.sheet.passes.iter().enumerate();
    let sung = passes.filter(|(_, pass)| {
        let section = pass.label.split(':').next().unwrap_or_default();
        pass.lead == Some(Lead::Voice) && SectionPart::of(section) == Some(part)
    });
    sung.map(|(at, _)| at).collect()
}

/// How loud a pass is: what all strikes of bass, chop and guitar come to by their velocities, over its bars, in
/// decibels where loudness goes with the square of the velocity, as sound modules have it (from memory).
fn loudness(take: &Take, pass: usize) -> f64 {
    let bars = &take.sheet.bars;
    let strokes = take.parts.iter().flat_map(|part| &part.strokes);
    // Silences are as long as they are: bars in which nobody plays do not count, nor those with stops.
    let here = strokes.filter(|s| bars[s.bar].pass == pass && bars[s.bar].stops.is_empty());
    let (energy, sounding) = here.fold((0.0, BTreeSet::new()), |(energy, mut sounding), stroke| {
        sounding.insert(stroke.bar);
        (energy + f64::from(stroke.velocity()).powi(4), sounding)
    });
    let length: i64 = sounding.iter().map(|&bar: &usize| bars[bar].meter.bar().get()).sum();
    10.0 * (energy / length.max(1) as f64).log10()
}

fn rises(take: &Take, from: Option<&usize>, to: Option<&usize>, what: &str) -> Vec<Reading> {
    let (Some(&from), Some(&to)) = (from, to) else { return Vec::new() };
    let bar = take.sheet.bars.iter().find(|bar| bar.pass == to).map_or(1, |bar| bar.number);
    let value = loudness(take, to) - loudness(take, from);
    vec![Reading { value, looked: 1, bar, what: what.to_owned() }]
}

/// From the first sung verse to the first sung chorus: 2 dB or more (common practice, no source).
pub fn verse_to_chorus(takes: &[Take]) -> Row {
    let name = "from the first verse to the first chorus";
    worst(name, " dB", Bound::AtLeast(2.0), 50, takes, |take| {
        let (verses, choruses) = (sung(take, SectionPart::Verse), sung(take, SectionPart::Chorus));
        rises(take, verses.first(), choruses.first(), "chorus")
    })
}

/// From the first sung chorus to the last: 1 dB or more (common practice, no source).
pub fn first_to_last_chorus(takes: &[Take]) -> Row {
    let name = "from the first chorus to the last";
    worst(name, " dB", Bound::AtLeast(1.0), 50, takes, |take| {
        let choruses = sung(take, SectionPart::Chorus);
        let several = choruses.len() > 1;
        rises(take, choruses.first(), choruses.last().filter(|_| several), "last chorus")
    })
}
