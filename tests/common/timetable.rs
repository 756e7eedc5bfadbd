//! What an export must hold, worked out from the song and what was asked, apart from the arranger:
//! where each bar, chord and stop falls, and who plays.
#![allow(dead_code)] // Not every test binary looks at everything.

use openchair::arrange::Plan;
use openchair::chart::{Ending, Lead, Role, RoleSet, Share, Song, Stop};
use openchair::style::Style;
use openchair::theory::{Chord, Key, Mode, Transposition};
use openchair::time::Meter;

/// A stretch of the song and what holds in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch<T> {
    pub start: i64,
    pub end: i64,
    pub value: T,
}

#[derive(Clone, Debug)]
pub struct Bar {
    pub start: i64,
    pub end: i64,
    pub meter: Meter,
    pub silent: RoleSet,
    pub chords: Vec<Stretch<Option<Chord>>>,
    pub stops: Vec<Stretch<Stop>>,
    /// The voice leads, and sings for more than half of the bar.
    pub sung: bool,
    /// The pass of the form that it belongs to.
    pub pass: usize,
    /// The bar in which everyone strikes once: the end.
    pub final_hit: bool,
}

pub struct Timetable {
    pub key: Key,
    pub meter: Meter,
    pub start: i64,
    pub end: i64,
    pub bars: Vec<Bar>,
    pub passes: Vec<(i64, String)>,
    /// Where the bars after the form begin.
    pub ending: Option<i64>,
    /// The chords in order, each until another begins.
    pub chords: Vec<Stretch<Option<Chord>>>,
    pub micros_per_quarter: f64,
    pub swing: f64,
    pub band: RoleSet,
}

pub fn bar_length(meter: Meter) -> i64 {
    4 * 960 * i64::from(meter.numerator()) / i64::from(meter.denominator())
}

/// Quarter notes in a beat: the beat is a quarter in x/4, a half in 2/2, a dotted quarter in 6/8.
pub fn quarters_a_beat(meter: Meter) -> f64 {
    match meter {
        Meter::FourFour | Meter::TwoFour | Meter::ThreeFour => 1.0,
        Meter::TwoTwo => 2.0,
        Meter::SixEight => 1.5,
    }
}

fn dropped(lead: Option<Lead>) -> RoleSet {
    match lead {
        Some(Lead::Guitar) => RoleSet::EMPTY.with(Role::Guitar),
        Some(Lead::Mandolin) => RoleSet::EMPTY.with(Role::Chop),
        Some(Lead::Bass) => RoleSet::EMPTY.with(Role::Bass),
        Some(Lead::Banjo) => RoleSet::EMPTY.with(Role::Banjo),
        Some(Lead::Fiddle) => RoleSet::EMPTY.with(Role::Fiddle),
        Some(Lead::Voice | Lead::Resonator) | None => RoleSet::EMPTY,
    }
}

fn laid<T: Copy, U>(at: i64, shares: &[Share<T>], make: impl Fn(T) -> U) -> Vec<Stretch<U>> {
    let mut at = at;
    shares
        .iter()
        .map(|share| {
            let start = at;
            at += share.length.get();
            Stretch { start, end: at, value: make(share.value) }
        })
        .collect()
}

impl Timetable {
    pub fn new(song: &Song, plan: &Plan, style: &Style) -> Self {
        let tonic = plan.key.map_or(song.key.tonic, |key| key.tonic);
        let by = Transposition::between(song.key.tonic, tonic);
        let up = (12 + tonic.pitch_class() - song.key.tonic.pitch_class()) % 12;
        let moved = |chord: Chord| {
            let moved = by.chord(&chord);
            assert_eq!(moved.root.pitch_class(), (chord.root.pitch_class() + up) % 12);
            assert_eq!(moved.bass_class(), (chord.bass_class() + up) % 12);
            assert_eq!(moved.quality, chord.quality);
            moved
        };
        // Counted in the song's meter, though its first bar be a short one.
        let start = i64::from(plan.count_in) * bar_length(song.meter);
        let (mut bars, mut passes, mut at) = (Vec::new(), Vec::new(), start);
        let throughout: RoleSet = Role::ALL
            .into_iter()
            .filter(|&role| plan.sit_out.iter().any(|o| o.role == role && o.section.is_none()))
            .collect();
        let band = plan.band.unwrap_or(song.band);
        let times = song.form.len() * plan.times.get() as usize;
        for pass in song.form.iter().cycle().take(times) {
            let section = &song.sections[pass.section];
            let label = match pass.lead {
                Some(lead) => format!("{}: {}", section.name, lead.as_str()),
                None => section.name.clone(),
            };
            passes.push((at, label));
            let here: RoleSet = plan
                .sit_out
                .iter()
                .filter(|out| out.section.as_ref() == Some(&section.name))
                .map(|out| out.role)
                .collect();
            let silent = here.union(throughout).union(pass.sit_out).union(dropped(pass.lead));
            for bar in &section.bars {
                let sung: i64 =
                    bar.singing.iter().filter(|s| s.value).map(|s| s.length.get()).sum();
                let end = at + bar_length(bar.meter);
                bars.push(Bar {
                    start: at,
                    end,
                    meter: bar.meter,
                    silent,
                    chords: laid(at, &bar.chords, |chord| chord.map(moved)),
                    stops: laid(at, &bar.stops, |stop| stop),
                    sung: pass.lead == Some(Lead::Voice) && sung * 2 > bar_length(bar.meter),
                    pass: passes.len() - 1,
                    final_hit: false,
                });
                at = end;
            }
        }
        let key = Key { tonic, mode: song.key.mode };
        let endings = ending(song.ending, song.key, song.meter);
        let ending = (!endings.is_empty()).then_some(at);
        let last = endings.len().saturating_sub(1);
        for (index, chords) in endings.into_iter().enumerate() {
            let length = bar_length(song.meter) / chords.len() as i64;
            let chords: Vec<_> = (at..)
                .step_by(length as usize)
                .zip(chords)
                .map(|(start, chord)| (start, Some(moved(chord))))
                .map(|(start, value)| Stretch { start, end: start + length, value })
                .collect();
            let end = at + bar_length(song.meter);
            bars.push(Bar {
                start: at,
                end,
                meter: song.meter,
                silent: throughout,
                chords,
                stops: Vec::new(),
                sung: false,
                pass: passes.len() - 1,
                final_hit: index == last,
            });
            at = end;
        }
        let mut chords: Vec<Stretch<Option<Chord>>> = Vec::new();
        for stretch in bars.iter().flat_map(|bar| &bar.chords) {
            match chords.last_mut() {
                Some(before) if before.value == stretch.value => before.end = stretch.end,
                _ => chords.push(stretch.clone()),
            }
        }
        let beats = plan.tempo.unwrap_or(song.tempo) * plan.speed / 100.0;
        let micros = (60e6 / (beats * quarters_a_beat(song.meter))).round();
        let micros_per_quarter = micros.clamp(1.0, f64::from(0xFF_FFFF_u32));
        let pairs = if song.meter == Meter::TwoFour { 2.0 } else { 1.0 };
        let pairs_per_minute = pairs * 60e6 / micros_per_quarter;
        Self {
            key,
            meter: song.meter,
            start,
            end: at,
            bars,
            passes,
            ending,
            chords,
            micros_per_quarter,
            swing: song.swing.unwrap_or_else(|| style.feel.swing_at(pairs_per_minute)),
            band,
        }
    }

    /// Milliseconds in ticks.
    pub fn ticks(&self, millis: f64) -> f64 {
        millis * 1000.0 * 960.0 / self.micros_per_quarter
    }

    /// Where swing puts a place on the grid. A bar of 6/8 does not swing, nor does a song in it; in 2/4
    /// the sixteenths do.
    pub fn swung(&self, at: i64) -> f64 {
        let in_six = self.bar_at(at).is_some_and(|bar| bar.meter == Meter::SixEight);
        if in_six || self.meter == Meter::SixEight {
            return at as f64;
        }
        let pair = if self.meter == Meter::TwoFour { 480 } else { 960 };
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

    pub fn bar_at(&self, at: i64) -> Option<&Bar> {
        let next = self.bars.partition_point(|bar| bar.start <= at);
        self.bars.get(next.checked_sub(1)?).filter(|bar| at < bar.end)
    }

    pub fn chord_at(&self, at: i64) -> Option<Chord> {
        let next = self.chords.partition_point(|chord| chord.start <= at);
        self.chords.get(next.checked_sub(1)?).filter(|chord| at < chord.end)?.value
    }

    /// The stop at a place, if the band does not just play on, and whether it begins there.
    fn stop_at(&self, at: i64) -> Option<(Stop, bool)> {
        let stops = &self.bar_at(at)?.stops;
        let stop = stops.iter().find(|stop| (stop.start..stop.end).contains(&at))?;
        (stop.value != Stop::PlayOn).then_some((stop.value, stop.start == at))
    }

    /// True if what a role's part has at this place is heard.
    pub fn heard(&self, role: Role, at: i64) -> bool {
        self.bar_at(at).is_some_and(|bar| !bar.silent.contains(role))
            && self.band.contains(role)
            && self.chord_at(at).is_some()
            && matches!(self.stop_at(at), None | Some((Stop::Hit, true)))
    }

    /// Where a role must be silent, joined where they touch: it sits out, there is no chord, the
    /// band stops.
    pub fn silences(&self, role: Role) -> Vec<(i64, i64)> {
        let mut all: Vec<(i64, i64)> = Vec::new();
        for bar in &self.bars {
            if bar.silent.contains(role) {
                all.push((bar.start, bar.end));
                continue;
            }
            let no_chord = bar.chords.iter().filter(|chord| chord.value.is_none());
            all.extend(no_chord.map(|chord| (chord.start, chord.end)));
            let stops = bar.stops.iter().filter(|stop| stop.value == Stop::Silence);
            all.extend(stops.map(|stop| (stop.start, stop.end)));
        }
        all.sort_unstable();
        let mut joined: Vec<(i64, i64)> = Vec::new();
        for (start, end) in all {
            match joined.last_mut() {
                Some((_, last)) if *last >= start => *last = (*last).max(end),
                _ => joined.push((start, end)),
            }
        }
        joined
    }

    /// Every place where the band hits together and chokes.
    pub fn hits(&self) -> impl Iterator<Item = &Stretch<Stop>> {
        let stops = self.bars.iter().flat_map(|bar| &bar.stops);
        stops.filter(|stop| stop.value == Stop::Hit)
    }
}

/// The bars of the ending, each with its chords: `hit` is the home chord; `tag` goes home and to the
/// fifth degree's chord before it, or to that alone where the bar has no half.
fn ending(ending: Ending, key: Key, meter: Meter) -> Vec<Vec<Chord>> {
    let minor = matches!(key.mode, Mode::Minor | Mode::Dorian);
    let home = Chord::parse(&format!("{}{}", key.tonic, if minor { "m" } else { "" }));
    let home = home.expect("a tonic names a chord");
    // Common practice, no source: a tag comes home from the 5, in modal tunes from the flat 7.
    let degree = if matches!(key.mode, Mode::Mixolydian | Mode::Dorian) { 6 } else { 4 };
    let fifth = Chord {
        root: key.scale()[degree],
        quality: Chord::parse("C").unwrap().quality,
        bass: None,
    };
    match (ending, meter) {
        (Ending::None, _) => vec![],
        (Ending::Hit, _) => vec![vec![home]],
        (Ending::Tag, Meter::ThreeFour) => vec![vec![fifth], vec![home]],
        (Ending::Tag, _) => vec![vec![home, fifth], vec![home]],
    }
}
