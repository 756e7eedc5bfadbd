//! Reviews made up for drawing: every kind of bar, stroke and finding, and as long as asked for.
#![allow(dead_code, missing_docs)]

use openchair::coverage::{BeatPart, Job, Singing};
use openchair::review::{
    Advice, BarReview, Busy, Figures, Finding, HitReview, Part, PassReview, Review, Timing,
    TimingReference, Tone, Tones,
};
use openchair::take::Source;

/// Bars of a pass.
const PASS: usize = 8;

/// A take of so many passes by a player who gets earlier and earlier, and misses the later backbeats.
pub fn review(passes: usize) -> Review {
    let bars: Vec<BarReview> = (1..=passes * PASS).map(bar).collect();
    let hits: Vec<HitReview> = bars.iter().flat_map(|bar| strokes(bar, passes * PASS)).collect();
    let of = |from: usize, to: usize| figures(&bars[from - 1..to], &hits, from, to);
    Review {
        title: "Gander & <Lamp>".to_owned(),
        key: "G".to_owned(),
        meter: "4/4".to_owned(),
        tempo: 86.4,
        speed: 80.0,
        open: vec!["chop".to_owned(), "guitar".to_owned()],
        source: Source::Sound,
        begins: 2.22,
        against: if passes > 4 { TimingReference::Fit } else { TimingReference::Band },
        sure: if passes > 4 { 0.62 } else { 0.97 },
        swing: None,
        remarks: Vec::new(),
        whole: of(1, passes * PASS),
        passes: (0..passes)
            .map(|at| {
                let (from, to) = (at * PASS + 1, (at + 1) * PASS);
                let label = ["verse: voice", "chorus: voice", "verse: mandolin"][at % 3];
                PassReview { label: label.to_owned(), bars: (from, to), figures: of(from, to) }
            })
            .collect(),
        findings: findings(),
        advice: Advice {
            about: Part::Rushing,
            words: "Your beat runs ahead of the band's, most of all in bars 5 to 8.".to_owned(),
            bars: Some((5, 8)),
            speed: 70.0,
            command: "openchair play 'songs/gander & lamp.toml' --loop 5-8 --speed 70 --sit-out \
                      chop,guitar"
                .to_owned(),
        },
        bars,
        hits,
    }
}

/// One bar, one pass, nothing played.
pub fn silent() -> Review {
    let mut silent = review(1);
    silent.bars.truncate(1);
    silent.hits.clear();
    silent.findings.clear();
    silent.passes.clear();
    silent.whole = Figures::default();
    silent.advice.bars = None;
    silent.advice.command.clear();
    silent
}

fn bar(number: usize) -> BarReview {
    const CHORDS: [&[&str]; 8] =
        [&["G"], &["G", "D/F#"], &["C"], &["C"], &["F#m7b5", "B7"], &["Em"], &["D7"], &["N.C."]];
    const JOBS: [Job; 8] = [
        Job::Vamp,
        Job::BoomVamp,
        Job::Vamp,
        Job::Fill,
        Job::Roll,
        Job::Sparse,
        Job::Boom,
        Job::Rest,
    ];
    let at = (number - 1) % PASS;
    let open = [2, 4, 2, 3, 4, 0, 2, 0][at];
    BarReview {
        number,
        chords: CHORDS[at].iter().map(|chord| (*chord).to_owned()).collect(),
        job: JOBS[at],
        singing: if at == 3 { Singing::Pauses } else { Singing::Sings },
        open,
        covered: open - usize::from(open > 1 && number.is_multiple_of(3)),
        hits: if at == 7 { 0 } else { open.max(1) + number % 4 },
    }
}

fn strokes(bar: &BarReview, bars: usize) -> Vec<HitReview> {
    const TONES: [Tone; 6] =
        [Tone::Chord, Tone::Chord, Tone::Sixth, Tone::Anticipation, Tone::Outside, Tone::Unknown];
    (0..bar.hits)
        .map(|at| {
            // Scattered as any numbers are that have little to do with each other.
            let chance = ((bar.number * 7919 + at * 104_729) % 1000) as f64 / 1000.0 - 0.5;
            let place = at as f64 / bar.hits as f64;
            let eighth = (place * 8.0) as usize;
            HitReview {
                at: (bar.number as f64 - 1.0 + place) * 2.777,
                bar: bar.number,
                place,
                part: [BeatPart::Down, BeatPart::And, BeatPart::Back, BeatPart::And][eighth % 4],
                late: chance * 90.0 - 40.0 * bar.number as f64 / bars as f64
                    + if bar.number == 11 { 400.0 } else { 0.0 },
                fills: at < bar.covered,
                tone: TONES[(bar.number + at * 5) % TONES.len()],
            }
        })
        .collect()
}

fn figures(bars: &[BarReview], hits: &[HitReview], from: usize, to: usize) -> Figures {
    let own: Vec<&HitReview> = hits.iter().filter(|hit| (from..=to).contains(&hit.bar)).collect();
    let tone = |tone: Tone| own.iter().filter(|hit| hit.tone == tone).count();
    let mean = own.iter().map(|hit| hit.late).sum::<f64>() / own.len().max(1) as f64;
    Figures {
        hits: own.len(),
        open: bars.iter().map(|bar| bar.open).sum(),
        covered: bars.iter().map(|bar| bar.covered).sum(),
        timing: Timing { mean, spread: 26.2, band_spread: 5.8, rushing: 1.6 },
        tones: Tones {
            chord: tone(Tone::Chord),
            sixth: tone(Tone::Sixth),
            anticipation: tone(Tone::Anticipation),
            outside: tone(Tone::Outside),
            unknown: tone(Tone::Unknown),
        },
        busy: Busy { sung: Some(3.4), pauses: Some(5.0), others: None },
    }
}

fn findings() -> Vec<Finding> {
    let finding = |about, good, weight, words: &str| Finding {
        about,
        good,
        weight,
        words: words.to_owned(),
        bars: Vec::new(),
    };
    vec![
        finding(Part::Rushing, false, 0.9, "Your beat runs ahead: 1.6 % faster than the band's."),
        finding(Part::Uncovered, false, 0.4, "Some backbeats were left open in the choruses."),
        finding(Part::Chords, true, 0.3, "Nearly all notes belong to the chord."),
    ]
}
