//! Takes in which no player is heard: silent ones, and those of the band alone.

use super::advice::advice_on;
use super::pace::pace;
use super::priorities::weight;
use super::{Figures, Finding, Part, Review, TimingReference};
use crate::arrange::Arrangement;
use crate::perform::Performance;
use crate::take::Source;

/// Of a take in which nothing was struck.
pub(super) fn nobody(song: &Arrangement, played: &Performance, source: Source) -> Review {
    let words = "You are not heard in the take: check that the right input was recorded, near enough and loud \
                 enough.";
    without(song, played, source, vec![found(Part::NobodyHeard, words)])
}

/// Of a take in which the band is heard and nobody beside it.
pub(super) fn band_alone(song: &Arrangement, played: &Performance, source: Source) -> Review {
    let findings = vec![
        found(
            Part::NobodyHeard,
            "You are not heard in the take: stroke for stroke it is the band itself.",
        ),
        found(Part::BandHeard, "The band is in the recording, and would be praised as you."),
    ];
    without(song, played, source, findings)
}

fn found(about: Part, words: &str) -> Finding {
    let weight = weight(about, 1.0);
    Finding { about, good: false, weight, words: words.to_owned(), bars: Vec::new() }
}

fn without(
    song: &Arrangement,
    played: &Performance,
    source: Source,
    findings: Vec<Finding>,
) -> Review {
    let about = findings.first().map_or(Part::NobodyHeard, |finding| finding.about);
    let (tempo, speed) = pace(song, played);
    Review {
        title: song.title.clone(),
        key: song.key.to_string(),
        meter: song.meter.to_string(),
        tempo,
        speed,
        open: Vec::new(),
        source,
        begins: 0.0,
        sure: 1.0,
        against: TimingReference::Fit,
        swing: None,
        remarks: Vec::new(),
        whole: Figures::default(),
        passes: Vec::new(),
        bars: Vec::new(),
        hits: Vec::new(),
        findings,
        advice: advice_on(about, None, speed),
    }
}
