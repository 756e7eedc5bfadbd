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

/// How somebody plays: all as it should be, but for what is said otherwise.
#[derive(Clone, Debug)]
pub struct Manner {
    /// How many times as fast as the band's the beat goes.
    pub speed: f64,
    /// How far strokes stray, in seconds.
    pub spread: f64,
    /// By how much the left hand comes late to every chord, as the song writes time.
    pub behind: Ticks,
    /// The share of a pair that its first note takes, where the song's is not meant.
    pub swing: Option<f64>,
    /// How many times as hard as otherwise it strikes while somebody sings.
    pub loud: f64,
    /// By how many seconds the strokes of a fill come early.
    pub fills: f64,
    /// By how many seconds those of the last beat before another chord do.
    pub changes: f64,
    /// In the bar of this number, the chord that is this one's in the song.
    pub wrong: Option<(usize, usize)>,
    /// In this section, the chords of that one.
    pub forgets: Option<(&'static str, &'static str)>,
    /// A quarter of the notes are left-hand ones: a hammer-on, pull-off or slide follows the stroke.
    pub slurs: bool,
    /// Who plays nothing but this where the band wants something.
    pub only: Option<Job>,
}

impl Manner {
    pub const GOOD: Self = Self {
        speed: 1.0,
        spread: 0.006,
        behind: Ticks::ZERO,
        swing: None,
        loud: 1.0,
        fills: 0.0,
        changes: 0.0,
        wrong: None,
        forgets: None,
        slurs: false,
        only: None,
    };
}

/// A take of somebody who plays in a manner, and begins `begins` seconds after the recording did.
pub fn take_of(evening: &Evening, manner: &Manner, seed: u64, begins: f64) -> Take {
    let mut random = Pcg32::new(seed, 79);
    let Evening { song, played, open, .. } = evening;
    let start = played.nanos(song.start).seconds();
    let pair = played.swing.pair().get();
    let moved = |at: Ticks| {
        let (whole, rest) = (at.get().div_euclid(pair), at.get().rem_euclid(pair));
        match manner.swing {
            Some(share) if rest == pair / 2 => {
                Ticks::new(whole * pair + (pair as f64 * share).round() as i64)
            }
            _ => played.swing.moved(at),
        }
    };
    // Where the first bar of a section stands, however often it comes.
    let first_of = |name: &str| {
        let pass = song.passes.iter().position(|pass| pass.label.starts_with(name))?;
        song.bars.iter().position(|bar| bar.pass == pass)
    };
    let mut hits = Vec::new();
    let mut slurs = 0;
    for (index, (bar, covered)) in song.bars.iter().zip(&open.bars).enumerate() {
        if !song.is_of_form(bar) {
            continue;
        }
        let mut chords_of = bar;
        if let Some((number, other)) = manner.wrong
            && number == bar.number
        {
            chords_of = song.bars.iter().find(|bar| bar.number == other).unwrap();
        }
        if let Some((section, other)) = manner.forgets
            && song.passes[bar.pass].label.starts_with(section)
        {
            let own = song.bars.iter().position(|other| other.pass == bar.pass).unwrap();
            chords_of = &song.bars[first_of(other).unwrap() + index - own];
        }
        let job = manner.only.filter(|_| covered.job != Job::Rest).unwrap_or(covered.job);
        for (slot, at) in covered.slots.iter().enumerate() {
            let Some(strings) = strings(job, slot, at.place, Habit::Steady) else { continue };
            let there = at.at + (chords_of.start - bar.start) - manner.behind;
            let Some(chord) = chord_at(song, there.max(song.start)) else { continue };
            let time = played.nanos(moved(at.at)).seconds() - start;
            let fill = if covered.job == Job::Fill { manner.fills } else { 0.0 };
            let then = chord_at(song, at.at + song.meter.beat());
            let hurry = if then == Some(chord) { 0.0 } else { manner.changes };
            let time =
                begins + time / manner.speed - fill - hurry + manner.spread * gauss(&mut random);
            let picked = slot + (random.next_u32() % 3) as usize;
            let pitches = pitches(&chord, strings, picked, 0);
            let sings = covered.singing == openchair::coverage::Singing::Sings;
            // A velocity's square is the amplitude.
            let gain = if sings { manner.loud.sqrt() } else { 1.0 };
            let loud = ((64 + random.next_u32() % 16) as f64 * gain).min(127.0) as u8;
            let at = |time: f64| Nanos((time.max(0.0) * 1e9) as i64);
            if manner.slurs && strings == 1 && random.next_u32().is_multiple_of(3) {
                slurs += 1;
                let step = [-2, -1, 1, 2][(random.next_u32() % 4) as usize];
                let to = MidiNote::clamped(i32::from(pitches[0].get()) + step);
                let after = 0.06 + f64::from(random.next_u32() % 1000) / 1000.0 * 0.06;
                hits.push(Hit { at: at(time + after), loud: loud * 2 / 3, pitches: vec![to] });
            }
            hits.push(Hit { at: at(time), loud, pitches });
        }
    }
    assert!(!manner.slurs || slurs > 0);
    hits.sort_by_key(|hit| hit.at);
    let length = hits.last().map_or(Nanos(0), |hit| Nanos(hit.at.0 + 1_000_000_000));
    Take { hits, length, source: Source::Midi }
}

/// What a microphone hears of the band alone: whatever begins together is one stroke.
pub fn band_alone(evening: &Evening, begins: f64) -> Take {
    let Evening { song, played, .. } = evening;
    let start = played.nanos(song.start).seconds();
    let mut notes: Vec<(f64, u8, MidiNote)> = played
        .parts
        .iter()
        .flat_map(|part| &part.notes)
        .map(|note| (played.nanos(note.start).seconds() - start, note.velocity, note.pitch))
        .collect();
    notes.sort_by(|one, other| one.0.total_cmp(&other.0));
    let mut hits: Vec<Hit> = Vec::new();
    for (time, velocity, pitch) in notes {
        let at = Nanos(((begins + time).max(0.0) * 1e9) as i64);
        match hits.last_mut() {
            Some(last) if at.0 - last.at.0 < 35_000_000 => last.pitches.push(pitch),
            _ => hits.push(Hit { at, loud: velocity, pitches: vec![pitch] }),
        }
    }
    for hit in &mut hits {
        hit.pitches.sort_unstable();
        hit.pitches.dedup();
    }
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
