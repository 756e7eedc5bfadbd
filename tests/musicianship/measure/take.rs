//! One song in one style by one seed, ready to be measured.

use std::borrow::Cow;

use openchair::arrange::{Arrangement, Bar, Plan, Span, arrange};
use openchair::chart::{Role, Song, Stop};
use openchair::perform::{Performance, perform};
use openchair::style::{RoleStyle, Style};
use openchair::theory::Chord;
use openchair::time::Meter;

use super::stroke::{Stroke, strokes};

pub struct Take {
    /// The song's file, without its ending.
    pub song: String,
    pub style: Style,
    pub seed: u64,
    pub sheet: Arrangement,
    /// The share of a pair that its first half takes, as song or style states it for the tempo.
    pub swing: f64,
    pub parts: Vec<Played>,
}

/// What one role plays.
pub struct Played {
    pub role: Role,
    /// In the order of time.
    pub strokes: Vec<Stroke>,
}

impl Played {
    /// What is struck at a place of the grid.
    pub fn stroke_at(&self, at: i64) -> Option<&Stroke> {
        let next = self.strokes.partition_point(|stroke| stroke.at < at);
        self.strokes.get(next).filter(|stroke| stroke.at == at)
    }
}

impl Take {
    pub fn new(name: &str, song: &Song, style: &Style, plan: &Plan, seed: u64) -> Self {
        let sheet = arrange(song, plan).unwrap();
        let performance = perform(&sheet, style, seed).unwrap();
        Self::of(name, sheet, style, &performance, seed)
    }

    /// A performance as it stands, however it came about.
    pub fn of(
        name: &str,
        sheet: Arrangement,
        style: &Style,
        performance: &Performance,
        seed: u64,
    ) -> Self {
        let swing = swing(&sheet, style);
        let song = name.to_owned();
        let mut take = Self { song, style: style.clone(), seed, sheet, swing, parts: Vec::new() };
        let played = |role, notes| Played { role, strokes: strokes(&take, role, notes) };
        let parts = performance.parts.iter().map(|part| played(part.role, &part.notes)).collect();
        take.parts = parts;
        take
    }

    pub fn name(&self) -> String {
        format!("{} x {} (seed {})", self.song, self.style.name, self.seed)
    }

    pub fn part(&self, role: Role) -> Option<&Played> {
        self.parts.iter().find(|part| part.role == role)
    }

    /// How a style has a role play; as a style that says nothing of it would.
    pub fn style_of(&self, role: Role) -> Cow<'_, RoleStyle> {
        let part = self.style.part(role).map(Cow::Borrowed);
        part.unwrap_or_else(|| Cow::Owned(RoleStyle::plain(role)))
    }

    pub fn millis(&self, ticks: f64) -> f64 {
        ticks * f64::from(self.sheet.tempo.micros_per_quarter()) / 960.0 / 1000.0
    }

    pub fn ticks(&self, millis: f64) -> f64 {
        millis * 1000.0 * 960.0 / f64::from(self.sheet.tempo.micros_per_quarter())
    }

    /// Two eighths swing as a pair; in 2/4 two sixteenths, since there the eighths carry the chops.
    pub fn pair(&self) -> i64 {
        if self.sheet.meter == Meter::TwoFour { 480 } else { 960 }
    }

    /// Where swing puts a place of the grid. Nothing swings in a bar of 6/8.
    pub fn swung(&self, at: i64, bar: &Bar) -> f64 {
        if bar.meter == Meter::SixEight {
            return at as f64;
        }
        let pair = self.pair();
        let (whole, inside) = (at.div_euclid(pair) * pair, at.rem_euclid(pair) as f64);
        let (pair, half) = (pair as f64, pair as f64 / 2.0);
        let first = pair * self.swing;
        let felt = if inside < half {
            inside / half * first
        } else {
            first + (inside - half) / half * (pair - first)
        };
        whole as f64 + felt
    }

    /// The bar, in the sheet's bars, that a place lies in.
    pub fn bar_at(&self, at: i64) -> usize {
        let next = self.sheet.bars.partition_point(|bar| bar.start.get() <= at);
        next.saturating_sub(1)
    }

    /// The number that a player would call the bar at a place by.
    pub fn bar_number(&self, at: i64) -> usize {
        self.sheet.bars[self.bar_at(at)].number
    }

    pub fn span_at(&self, at: i64) -> Option<&Span> {
        let next = self.sheet.spans.partition_point(|span| span.start.get() <= at);
        self.sheet.spans.get(next.checked_sub(1)?).filter(|span| at < span.end.get())
    }

    pub fn chord_of(&self, span: &Span) -> Option<&Chord> {
        self.sheet.chord(span.chord?)
    }

    pub fn chord_at(&self, at: i64) -> Option<&Chord> {
        self.chord_of(self.span_at(at)?)
    }

    /// True if what a role has at a place is heard: it plays there, there is a chord, the band is not
    /// silent.
    pub fn heard(&self, role: Role, at: i64) -> bool {
        let bar = &self.sheet.bars[self.bar_at(at)];
        let stops = &self.sheet.stops[bar.stops.clone()];
        let stop = stops.iter().rfind(|stop| stop.start.get() <= at);
        let plays_on = stop.is_none_or(|stop| match stop.stop {
            Stop::PlayOn => true,
            Stop::Hit => stop.start.get() == at,
            Stop::Hold => true,
            Stop::Silence => false,
        });
        !bar.resting.contains(role) && plays_on && self.chord_at(at).is_some()
    }
}

/// How a style swings is written for pairs a minute.
fn swing(sheet: &Arrangement, style: &Style) -> f64 {
    let pairs = if sheet.meter == Meter::TwoFour { 2.0 } else { 1.0 };
    let pairs_a_minute = pairs * 60e6 / f64::from(sheet.tempo.micros_per_quarter());
    match sheet.meter {
        Meter::SixEight => 0.5,
        _ => sheet.swing.unwrap_or_else(|| style.feel.swing_at(pairs_a_minute)),
    }
}
