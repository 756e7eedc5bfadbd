//! How a style swings at each tempo, heard from its strokes, beside what is published of swing.
//!
//! Players' long and short eighths stand up to 3.5 to 1 at about 120 quarters a minute and come level as
//! the tempo rises, about linearly; the short one lasts about 100 ms at medium and fast tempi (Friberg &
//! Sundström 2002, Music Perception 19(3) 333-349).

use openchair::arrange::Plan;
use openchair::chart::Song;
use openchair::style::Style;
use openchair::time::Meter;

use super::row::{Bound, Row, Spot};
use super::take::{Played, Take};
use crate::shipped;

/// The widest that long and short are published, long to short.
const WIDEST: f64 = 3.5;

/// The short note as published, in milliseconds.
const SHORT: f64 = 100.0;

/// By how much a tone may be displaced unnoticed, in milliseconds, where tones are less than 240 ms apart
/// (Friberg & Sundberg 1995, JASA 98). So much shorter than published is not heard as shorter.
const UNNOTICED: f64 = 6.0;

/// Nearer to even than this, long to short, swing has gone: half of that displacement in an eighth of
/// 100 ms.
const EVEN: f64 = 1.06;

/// Tempi of a style that are looked at, from its slowest to its fastest.
const TEMPI: i32 = 6;

/// So many off-beats at least are heard at each.
const ENOUGH: usize = 60;

/// By so many seeds at most.
const SEEDS: u64 = 10;

/// A style at a tempo.
pub struct Heard {
    pub style: String,
    pub meter: Meter,
    /// Beats of the meter a minute.
    pub tempo: f64,
    /// Pairs of swung notes a minute: quarters, in 2/4 eighths.
    pub pairs: f64,
    /// The share of the pair that the style states for the first, and the share as it is heard.
    pub stated: f64,
    pub share: f64,
    /// How many off-beats were heard.
    pub looked: usize,
}

impl Heard {
    /// Long to short.
    pub fn ratio(&self) -> f64 {
        self.share / (1.0 - self.share)
    }

    /// The short note in milliseconds.
    pub fn short(&self) -> f64 {
        (1.0 - self.share) * 60_000.0 / self.pairs
    }

    /// Long to short where the short note lasts 100 ms, as published for medium and fast tempi.
    pub fn published(&self) -> f64 {
        ((60_000.0 / self.pairs - SHORT) / SHORT).clamp(1.0, WIDEST)
    }

    pub fn is_even(&self) -> bool {
        self.ratio() < EVEN
    }

    fn spot(&self) -> Spot {
        let (short, ratio) = (self.short(), self.ratio());
        let take = format!("{} in {} at {:.0}", self.style, self.meter, self.tempo);
        Spot { take, bar: 1, what: format!("{ratio:.2} to 1, the short note {short:.0} ms") }
    }
}

/// Every shipped style that swings, in each of its meters, at tempi over its range.
pub fn heard() -> Vec<Heard> {
    let songs = shipped::songs();
    let mut all = Vec::new();
    for style in shipped::styles().iter().filter(|style| !style.feel.swing.is_empty()) {
        for &meter in style.meters.iter().filter(|&&meter| meter != Meter::SixEight) {
            let fitting: Vec<&Song> =
                songs.iter().map(|(_, song)| song).filter(|song| song.meter == meter).collect();
            let (slowest, fastest) = (*style.tempo.start(), *style.tempo.end());
            for step in 0..TEMPI {
                let along = f64::from(step) / f64::from(TEMPI - 1);
                let tempo = (slowest + (fastest - slowest) * along).round();
                all.push(at_tempo(style, meter, &fitting, tempo));
            }
        }
    }
    all
}

/// Songs one after the other, and all of them again by the next seed, until enough off-beats are heard.
fn at_tempo(style: &Style, meter: Meter, songs: &[&Song], tempo: f64) -> Heard {
    let (mut sum, mut looked, mut pairs, mut stated) = (0.0, 0, 0.0, 0.5);
    let performances = (1..=SEEDS).flat_map(|seed| songs.iter().map(move |song| (seed, song)));
    for (seed, song) in performances {
        let plan = Plan { tempo: Some(tempo), ..Plan::default() };
        let take = Take::new("", song, style, &plan, seed);
        let quarters = 60e6 / f64::from(take.sheet.tempo.micros_per_quarter());
        pairs = quarters * 960.0 / take.pair() as f64;
        stated = take.swing;
        for (share, count) in take.parts.iter().filter_map(|part| share(&take, part)) {
            sum += share * count as f64;
            looked += count;
        }
        if looked >= ENOUGH {
            break;
        }
    }
    let share = sum / looked as f64;
    Heard { style: style.name.clone(), meter, tempo, pairs, stated, share, looked }
}

/// Where in the pair a role puts the second note, counted from where it puts the first; and how often
/// it plays one. So its lean does not count.
fn share(take: &Take, part: &Played) -> Option<(f64, usize)> {
    let pair = take.pair();
    let mean = |place: i64| {
        let there = part.strokes.iter().filter(|stroke| stroke.at.rem_euclid(pair) == place);
        let late: Vec<f64> = there.map(|stroke| (stroke.start() - stroke.at) as f64).collect();
        (late.len() > 4).then(|| (late.iter().sum::<f64>() / late.len() as f64, late.len()))
    };
    let ((on, _), (off, count)) = (mean(0)?, mean(pair / 2)?);
    Some(((pair as f64 / 2.0 + off - on) / pair as f64, count))
}

/// Every measure of swing.
pub fn rows(heard: &[Heard]) -> [Row; 3] {
    [short_note(heard), ratio(heard), as_stated(heard)]
}

/// The shortest short note of all that swing: not noticeably shorter than 100 ms. Where swing has gone
/// even, eighths are as short as the tempo makes them.
pub fn short_note(heard: &[Heard]) -> Row {
    let swinging: Vec<&Heard> = heard.iter().filter(|heard| !heard.is_even()).collect();
    let bound = Bound::AtLeast(SHORT - UNNOTICED);
    row("swing: the shortest short note", " ms", bound, &swinging, Heard::short)
}

/// The widest ratio of all: within what is published.
pub fn ratio(heard: &[Heard]) -> Row {
    let all: Vec<&Heard> = heard.iter().collect();
    row("swing: the widest ratio, long to short", "", Bound::AtMost(WIDEST), &all, Heard::ratio)
}

/// How far the second note of a pair lies from where the style states it, in milliseconds: no further than
/// is noticed.
pub fn as_stated(heard: &[Heard]) -> Row {
    let all: Vec<&Heard> = heard.iter().collect();
    let name = "swing: the second note, heard beside stated";
    let off = |heard: &Heard| (heard.share - heard.stated).abs() * 60_000.0 / heard.pairs;
    row(name, " ms", Bound::AtMost(UNNOTICED), &all, off)
}

fn row(
    name: &str,
    unit: &'static str,
    bound: Bound,
    heard: &[&Heard],
    value: fn(&Heard) -> f64,
) -> Row {
    let sign = if matches!(bound, Bound::AtLeast(_)) { 1.0 } else { -1.0 };
    let by_value =
        |one: &&&Heard, other: &&&Heard| (sign * value(one)).total_cmp(&(sign * value(other)));
    let worst = heard.iter().min_by(by_value);
    let misses = heard.iter().filter(|heard| !bound.is_met(value(heard)));
    Row {
        name: name.to_owned(),
        unit,
        bound,
        value: worst.map_or(f64::NAN, |heard| value(heard)),
        // Each must be heard often enough.
        looked: heard.iter().map(|heard| heard.looked).min().unwrap_or(0),
        enough: ENOUGH,
        worst: worst.map(|heard| heard.spot()),
        misses: misses.map(|heard| heard.spot()).collect(),
    }
}
