//! Players made up for the purpose: each covers what the band leaves open, and has one habit.
#![allow(dead_code)] // Not every test binary meets everybody.

use std::fs;
use std::path::Path;

use openchair::arrange::{Arrangement, Plan, SitOut, arrange};
use openchair::backup::Backup;
use openchair::chart::{Role, RoleSet, read_song};
use openchair::coverage::{BeatPart, Coverage, Job, coverage};
use openchair::perform::{Performance, perform};
use openchair::style::{Style, read_style};
use openchair::take::{Hit, Source, Take};
use openchair::text::{Problems, Source as Text};
use openchair::theory::{Chord, MidiNote};
use openchair::time::{Nanos, Ticks};
use rand_core::Rng;
use rand_pcg::Pcg32;

/// What a player does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Habit {
    /// All as it should be.
    Steady,
    /// A beat two percent faster than the band's.
    Rushing,
    /// Two percent slower.
    Dragging,
    /// Strokes that stray by 20 ms.
    Uneven,
    /// Another chord in one bar of four: the key's own neighbour, or a fret off.
    WrongChords,
    /// Rolls where next to nothing is to be played.
    Busy,
}

impl Habit {
    pub const ALL: [Self; 6] =
        [Self::Steady, Self::Rushing, Self::Dragging, Self::Uneven, Self::WrongChords, Self::Busy];

    /// How far its strokes stray, in seconds.
    pub const fn spread(self) -> f64 {
        match self {
            Self::Uneven => 0.020,
            _ => 0.006,
        }
    }

    /// How many times as fast as the band's its beat goes.
    pub const fn speed(self) -> f64 {
        match self {
            Self::Rushing => 1.02,
            Self::Dragging => 0.98,
            _ => 1.0,
        }
    }
}

/// A song as the band plays it.
pub struct Evening {
    pub song: Arrangement,
    pub style: Style,
    pub played: Performance,
    pub open: Coverage,
}

/// Sets up one of the program's songs with some chairs left open.
pub fn evening(name: &str, open: &[Role], speed: f64) -> Evening {
    evening_with(name, &[], open, speed)
}

/// The same with more in the band than the song has.
pub fn evening_with(name: &str, more: &[Role], open: &[Role], speed: f64) -> Evening {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |path: &Path| fs::read_to_string(path).unwrap();
    let toml = read(&folder.join("songs").join(format!("{name}.toml")));
    let source = Text::new("song.toml", toml).unwrap();
    let (song, _) = read_song(&source, &mut Problems::new()).unwrap();
    let path = folder.join("backing-styles").join(format!("{}.toml", song.style));
    let source = Text::new("style.toml", read(&path)).unwrap();
    let style = read_style(&song.style, &source, &mut Problems::new()).unwrap();
    let sit_out = open.iter().map(|&role| SitOut { role, section: None }).collect();
    let band = song.band.iter().chain(more.iter().copied()).collect();
    let plan = Plan { sit_out, tag: style.tag, speed, band: Some(band), ..Plan::default() };
    let song = arrange(&song, &plan).unwrap();
    let played = perform(&song, &style, 1).unwrap();
    let open = coverage(&song, &played, RoleSet::EMPTY);
    Evening { song, style, played, open }
}

/// A take of somebody with a habit, who begins to play `begins` seconds after the recording began.
pub fn take(evening: &Evening, habit: Habit, seed: u64, begins: f64) -> Take {
    let mut random = Pcg32::new(seed, 77);
    let Evening { song, played, open, .. } = evening;
    let start = played.nanos(song.start).seconds();
    let mut hits = Vec::new();
    for (index, (bar, covered)) in song.bars.iter().zip(&open.bars).enumerate() {
        if !song.is_of_form(bar) {
            continue;
        }
        let wrong = habit == Habit::WrongChords && index % 4 == (seed % 4) as usize;
        let off = if wrong { neighbour(&mut random) } else { 0 };
        for (slot, at) in covered.slots.iter().enumerate() {
            let Some(strings) = strings(covered.job, slot, at.place, habit) else { continue };
            let Some(chord) = chord_at(song, at.at) else { continue };
            let time = played.nanos(played.swing.moved(at.at)).seconds() - start;
            let time = begins + time / habit.speed() + habit.spread() * gauss(&mut random);
            let picked = slot + (random.next_u32() % 3) as usize;
            hits.push(Hit {
                at: Nanos((time.max(0.0) * 1e9) as i64),
                loud: 70 + (random.next_u32() % 20) as u8,
                pitches: pitches(&chord, strings, picked, off),
            });
        }
    }
    hits.sort_by_key(|hit| hit.at);
    let length = hits.last().map_or(Nanos(0), |hit| Nanos(hit.at.0 + 1_000_000_000));
    Take { hits, length, source: Source::Midi }
}

/// A take of somebody who plays a part as it is written, straying by 6 ms.
pub fn picked(evening: &Evening, part: &Backup, seed: u64, begins: f64) -> Take {
    let mut random = Pcg32::new(seed, 78);
    let Evening { song, played, .. } = evening;
    let start = played.nanos(song.start).seconds();
    let mut hits: Vec<Hit> = Vec::new();
    for together in part.picks.chunk_by(|one, other| one.at == other.at) {
        let time = played.nanos(played.swing.moved(together[0].at)).seconds() - start;
        let time = begins + time + Habit::Steady.spread() * gauss(&mut random);
        let mut pitches: Vec<MidiNote> = together.iter().map(|pick| pick.pitch).collect();
        pitches.sort_unstable();
        hits.push(Hit { at: Nanos((time.max(0.0) * 1e9) as i64), loud: 80, pitches });
    }
    hits.sort_by_key(|hit| hit.at);
    Take { length: hits[hits.len() - 1].at, hits, source: Source::Midi }
}

/// How many strings are picked at a place, if any.
fn strings(job: Job, slot: usize, place: BeatPart, habit: Habit) -> Option<usize> {
    match job {
        Job::Rest => None,
        Job::Boom => (place == BeatPart::Down).then_some(1),
        Job::Vamp => (place == BeatPart::Back).then_some(3),
        Job::BoomVamp => match place {
            BeatPart::Down => Some(1),
            BeatPart::Back => Some(3),
            BeatPart::And => None,
        },
        Job::Lead | Job::RollSoft | Job::Roll | Job::RollWith | Job::Fill => Some(1),
        Job::Sparse if habit == Habit::Busy => Some(1),
        Job::Sparse => (place == BeatPart::Back && slot > 2).then_some(2),
    }
}

fn chord_at(song: &Arrangement, at: Ticks) -> Option<Chord> {
    let span = song.spans.iter().rev().find(|span| span.start <= at)?;
    song.chord(span.chord?).copied()
}

/// Notes of the chord between D3 and C5, so many half steps off.
fn pitches(chord: &Chord, strings: usize, from: usize, off: i32) -> Vec<MidiNote> {
    let tones: Vec<u8> =
        (50..72).filter(|pitch| chord.tones().any(|tone| tone == pitch % 12)).collect();
    let mut out: Vec<MidiNote> = (0..strings)
        .map(|string| i32::from(tones[(from + string) % tones.len()]) + off)
        .map(MidiNote::clamped)
        .collect();
    out.sort_unstable();
    out.dedup();
    out
}

/// A fret off, or the chord a step or a fourth away.
fn neighbour(random: &mut Pcg32) -> i32 {
    [-1, 1, 2, -2, 5][(random.next_u32() % 5) as usize]
}

/// A normal deviate (Box & Muller 1958).
pub fn gauss(random: &mut Pcg32) -> f64 {
    let even = |random: &mut Pcg32| (f64::from(random.next_u32()) + 0.5) / 4_294_967_296.0;
    let (one, two) = (even(random), even(random));
    (-2.0 * one.ln()).sqrt() * (std::f64::consts::TAU * two).cos()
}
