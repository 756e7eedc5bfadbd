//! How a take was recorded, where nobody says so: at which speed, in which key.

use super::lay::{self, Laid, lay};
use super::lay_tables::Unit;
use super::one_chord::stays_on_one_chord;
use super::own_beat::{firmness, own_beats};
use super::pace::pace;
use super::picked::picked;
use super::song_grid::SongGrid;
use super::{Anchor, NotReviewed, RecordedHow};
use crate::arrange::Arrangement;
use crate::coverage::Coverage;
use crate::perform::Performance;
use crate::take::{Hit, Take};
use crate::theory::MidiNote;
use crate::time::{Meter, Nanos};

/// Between which practice speeds is looked, in percent of the song's own tempo.
const SPEEDS: (f64, f64) = (24.0, 155.0);

/// How finely, as a share: over the eight seconds that a beat is looked for in, the last stroke strays by a tenth of
/// a short step.
const FINE: f64 = 0.004;

/// Of the speeds that fit in time, so many are tried with the chords.
const TRIED: usize = 7;

/// At so many of the speeds other keys are tried: at those that are firmest.
const KEYS_AT: usize = 5;

/// A speed or key must fit by so much better than what was asked for to be the one that was played; and by so much
/// better than the next one to be told without asking.
const BETTER: f64 = 0.15;
const CLEARER: f64 = 0.03;

/// How near two speeds lie that are the same, as a share; a player's own beat goes off from the band's by as much.
const SAME: f64 = 0.045;

/// So many strokes tell; more tell nothing new.
const TELLING: usize = 1200;

/// The fewest strokes that tell.
const FEWEST: usize = 16;

/// Practice speeds are whole fives, unless what was played lies further off than a player strays, in percent of it.
const FIVE: f64 = 5.0;
const STRAYS: f64 = 2.6;

/// One way in which it may have been recorded.
#[derive(Clone, Copy, Debug)]
struct Way {
    /// How many times as fast as the song as it was asked for.
    faster: f64,
    moved: i32,
    score: f64,
}

/// At which speed and in which key a take was played, if another than asked for fits clearly better; `None` if it is as
/// asked for, or nothing can be told.
///
/// Where it begins is not asked: what was said of that was said of the speed that was asked for.
///
/// # Errors
/// [`NotReviewed::TwoWays`] where two fit alike.
pub fn recorded_how(
    song: &Arrangement,
    played: &Performance,
    coverage: &Coverage,
    take: &Take,
) -> Result<Option<RecordedHow>, NotReviewed> {
    let mut hits = strokes(take);
    hits.truncate(TELLING);
    if hits.len() < FEWEST {
        return Ok(None);
    }
    let ground = Ground::new(song, played, coverage);
    let at = |faster: f64, moved: i32| -> Option<(f64, f64)> {
        let hits: Vec<Hit> = hits.iter().map(|hit| changed(hit, faster, -moved)).collect();
        let hits: Vec<&Hit> = hits.iter().collect();
        let laid = ground.laid(&hits)?;
        Some((laid.score, laid.fit))
    };
    let (_, asked) = pace(song, played);
    let mut ways: Vec<Way> = Vec::new();
    let mut fits: Vec<(f64, f64)> = Vec::new();
    for faster in std::iter::once(1.0).chain(speeds(&times(&hits), ground.unit, asked)) {
        let Some((score, fit)) = at(faster, 0) else { continue };
        ways.push(Way { faster, moved: 0, score });
        fits.push((faster, fit));
    }
    /// Where more of the notes than this fit in time and chords, no other key is looked for.
    const CLEARLY: f64 = 0.85;
    // A single chord is one of many keys.
    let tells = !stays_on_one_chord(song, take);
    for (faster, fit) in fits.into_iter().take(KEYS_AT) {
        if tells && fit < CLEARLY {
            ways.extend((-5..=6).filter(|moved| *moved != 0).filter_map(|moved| {
                at(faster, moved).map(|(score, _)| Way { faster, moved, score })
            }));
        }
    }
    let as_asked = ways.iter().find(|way| way.faster == 1.0 && way.moved == 0);
    let as_asked = as_asked.map_or(f64::NEG_INFINITY, |way| way.score);
    let best = ways.iter().copied().reduce(|a, b| if b.score > a.score { b } else { a });
    let Some(best) = best.filter(|best| best.score > as_asked + BETTER) else { return Ok(None) };
    let told = |way: &Way| RecordedHow {
        speed: whole(asked * way.faster),
        moved: way.moved,
        key: song.key.moved(way.moved),
    };
    let other = ways.iter().find(|way| {
        let apart = (way.faster / best.faster - 1.0).abs() > SAME || way.moved != best.moved;
        apart && way.score > best.score - CLEARER
    });
    match other {
        Some(other) => Err(NotReviewed::TwoWays { ways: [told(&best), told(other)] }),
        None => Ok(Some(told(&best))),
    }
}

/// How well a take fits a song as the band plays it: 1.3 and more where its notes are the chords', its strokes fill what is
/// open on a firm beat, and it begins where a player comes in; 0 at random. `None` where nothing of it can be laid over the song.
pub fn fits(
    song: &Arrangement,
    played: &Performance,
    coverage: &Coverage,
    take: &Take,
) -> Option<f64> {
    Some(Ground::new(song, played, coverage).laid(&strokes(take))?.score)
}

/// What a take is laid on.
struct Ground<'a> {
    song: &'a Arrangement,
    coverage: &'a Coverage,
    grid: SongGrid,
    unit: Unit,
}

impl<'a> Ground<'a> {
    fn new(song: &'a Arrangement, played: &Performance, coverage: &'a Coverage) -> Self {
        let grid = SongGrid::new(song, played, coverage);
        let unit = Unit::new(played.swing.pair(), played.swing.share(), played.tempo);
        Self { song, coverage, grid, unit }
    }

    /// Strokes in order of time, laid where they fit best.
    fn laid(&self, hits: &[&Hit]) -> Option<Laid> {
        let known = lay::known(Anchor::Find, hits.first()?.at);
        let swings = self.song.meter != Meter::SixEight;
        let beats = own_beats(&times(hits), self.unit.period, swings);
        lay(self.song, &self.grid, self.coverage, hits, &beats, self.unit, known)
    }
}

/// The right hand's strokes of a take, in order of time.
fn strokes(take: &Take) -> Vec<&Hit> {
    let mut hits: Vec<&Hit> = take.hits.iter().collect();
    hits.sort_by_key(|hit| hit.at);
    picked(&hits)
}

/// When they are, in seconds from the first.
fn times(hits: &[&Hit]) -> Vec<f64> {
    let first = hits.first().map_or(Nanos(0), |hit| hit.at);
    hits.iter().map(|hit| Nanos(hit.at.0.saturating_sub(first.0)).seconds()).collect()
}

/// A practice speed as it is asked for.
fn whole(percent: f64) -> f64 {
    let five = (percent / FIVE).round() * FIVE;
    if (percent / five - 1.0).abs() * 100.0 <= STRAYS { five } else { percent.round() }
}

/// A stroke of a take that is played so many times as slow, so many half steps higher.
fn changed(hit: &Hit, slower: f64, by: i32) -> Hit {
    let higher = |pitch: &MidiNote| MidiNote::clamped(i32::from(pitch.get()) + by);
    Hit {
        at: Nanos((hit.at.0 as f64 * slower) as i64),
        pitches: hit.pitches.iter().map(higher).collect(),
        loud: hit.loud,
    }
}

/// How many times as fast as asked for the strokes may go, as far as their times tell: those that fit best, each the best
/// about it.
fn speeds(times: &[f64], unit: Unit, asked: f64) -> Vec<f64> {
    let (from, to) = ((SPEEDS.0 / asked).ln(), (SPEEDS.1 / asked).ln());
    let steps = ((to - from) / FINE).max(0.0) as usize;
    let all: Vec<(f64, f64)> = (0..=steps)
        .map(|step| {
            let faster = (from + step as f64 * FINE).exp();
            (faster, firmness(times, unit.period, 1.0 / faster))
        })
        .collect();
    let apart = (SAME / FINE) as usize;
    let highest = |at: usize| {
        let around = all.get(at.saturating_sub(apart)..(at + apart + 1).min(all.len()));
        let most = around.unwrap_or_default().iter().map(|way| way.1).fold(0.0, f64::max);
        all.get(at).is_some_and(|way| way.1 >= most)
    };
    let mut peaks: Vec<(f64, f64)> = (0..all.len())
        .filter(|&at| highest(at))
        .filter_map(|at| all.get(at).copied())
        .filter(|(faster, _)| (faster - 1.0).abs() > SAME)
        .collect();
    peaks.sort_by(|one, other| other.1.total_cmp(&one.1));
    peaks.truncate(TRIED);
    peaks.into_iter().map(|(faster, _)| faster).collect()
}
