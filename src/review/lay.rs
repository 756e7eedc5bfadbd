//! Where in the song a take lies: of all places the one where its notes are most of the chords' and its strokes
//! fill what was open.

use super::Anchor;
use super::lay_tables::{Candidate, SongTable, TakeTable, Unit, expected};
use super::lost_beats::lost_beats;
use super::own_beat::{OwnBeat, WIDEST};
use super::song_grid::{SongGrid, Spot};
use crate::arrange::Arrangement;
use crate::coverage::Coverage;
use crate::take::Hit;
use crate::time::Nanos;

/// What a bar further into the song costs: of places that fit alike, the first is meant.
const LATER: f64 = 0.0005;

/// How far a player's strokes may lie beside the band's at the known beginning, in seconds: what a recording
/// delays and a hand strays at most.
const BESIDE: f64 = 0.16;

/// A take laid over the song.
#[derive(Clone, Debug)]
pub(super) struct Laid {
    /// Which of the take's own beats it is.
    pub beat: usize,
    /// From which stroke on (counted on the take's own beat), how many seconds are to be added to the time of
    /// a place on the take's own grid to have that in the song. The first begins with the first stroke; there
    /// are more where beats were lost or won.
    pub shifts: Vec<(usize, f64)>,
    /// True if it lies where it was said to lie.
    pub anchored: bool,
    /// The same for all of it, had no beat been lost.
    pub base: f64,
    /// The share of the notes made out that belong to their chords, as it is laid.
    pub fit: f64,
    /// What all in all speaks for it: places of other tempos and keys are held against it.
    pub score: f64,
    /// How many notes were made out.
    pub known: usize,
}

/// By so much better a take must fit elsewhere to be laid there, where it is known when the song began.
const ELSEWHERE: f64 = 0.1;

/// By so much better it must fit where nobody said that it lies for what was said to be an error.
const SAID_WRONGLY: f64 = 0.25;

/// A count-in that was said wrongly is off by fewer bars than these; a place further off, such as the next verse, is only
/// meant where the take does not fit at all where it was said to lie. Of chords half of which are wrong it is 0.8, at random
/// 0.4.
const BESIDE_BARS: f64 = 4.0;
const HOPELESS: f64 = 0.6;

/// So many beats from where it was said to lie a take may be by the player's own doing.
const OWN_DOING: f64 = 1.4;

/// What the firmness of the beat counts: of two ways to hear it that fit the chords alike, the plainer is meant.
const FIRM: f64 = 0.3;

/// What it counts that the recording begins with the song or with a bar or two of count-in, to within so many
/// seconds. Not much: by chance it does so for some place or other.
const COUNTED_IN: (f64, f64) = (0.06, 0.04);

/// What it counts that the first stroke is where a player comes in.
const COMES_IN: f64 = 0.15;

/// So many units of a take tell where it may lie, and so many places are then looked at with all of it.
const TELLING: usize = 400;
const LIKELY: usize = 48;

/// What is known of where a take lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct Known {
    /// Where the song's first beat lies, if that was said; in seconds from the first stroke.
    pub begins: Option<f64>,
    /// When the recording began, in the same.
    pub from: f64,
}

/// Finds where in the song the take lies. `None` for a take without a beat, or nowhere near the song.
pub(super) fn lay(
    song: &Arrangement,
    grid: &SongGrid,
    coverage: &Coverage,
    hits: &[&Hit],
    beats: &[OwnBeat],
    unit: Unit,
    known: Known,
) -> Option<Laid> {
    let table = SongTable::new(song, grid, coverage, unit);
    let takes: Vec<TakeTable> =
        beats.iter().map(|beat| TakeTable::new(beat, hits, &table)).collect();
    let entries = entries(song, grid, coverage, unit);
    let search = Search { table: &table, takes: &takes, beats, unit, song, known, entries };
    let free = || search.best(None);
    let (place, anchored) = match known.begins {
        None => (free()?, false),
        Some(begins) => {
            let (near, free) = (search.best(Some(begins)), free());
            let beat = song.tempo.nanos(song.meter.beat()).seconds();
            let wrongly = free.filter(|free| {
                near.is_none_or(|near| {
                    let off = (free.begins - begins).abs();
                    let bar = song.tempo.nanos(song.meter.bar()).seconds();
                    off > OWN_DOING * beat
                        && free.score - near.score > SAID_WRONGLY
                        && (off < BESIDE_BARS * bar || near.score < HOPELESS)
                })
            });
            match wrongly {
                Some(free) => (free, false),
                None => (near?, true),
            }
        }
    };
    let take = takes.get(place.beat)?;
    let seconds = |shift: i64| shift as f64 * unit.period.length;
    let length = song.meter.bar().get() / unit.ticks.get().max(1);
    let jumps = lost_beats(
        &take.counts(),
        (place.candidate.shift, anchored),
        unit.beat(song.meter),
        length,
        |at, shift| take.units.get(at).map_or(0.0, |here| table.value(here, shift).0),
    );
    let first_of = |unit: usize| take.units.get(unit).map_or(0, |unit| unit.first);
    Some(Laid {
        beat: place.beat,
        anchored,
        base: seconds(place.candidate.shift),
        shifts: jumps.into_iter().map(|(unit, shift)| (first_of(unit), seconds(shift))).collect(),
        fit: place.candidate.fit,
        score: place.score,
        known: place.candidate.known,
    })
}

/// Where a player comes in, in half units from the song's first beat: on the first beat of each pass of the form, and in
/// the first place of it where something is to be played.
fn entries(song: &Arrangement, grid: &SongGrid, coverage: &Coverage, unit: Unit) -> Vec<i64> {
    let wanted =
        |spot: &&Spot| expected(coverage.bars.get(spot.bar).map(|bar| bar.job), spot) > 0.0;
    let pass =
        |bar: usize| song.bars.get(bar).filter(|bar| song.is_of_form(bar)).map(|bar| bar.pass);
    grid.spots
        .chunk_by(|one, other| pass(one.bar) == pass(other.bar))
        .filter(|spots| spots.first().is_some_and(|spot| pass(spot.bar).is_some()))
        .flat_map(|spots| [spots.first(), spots.iter().find(wanted)])
        .flatten()
        .map(|spot| (spot.at - song.start).get() * 2 / unit.ticks.get().max(1))
        .collect()
}

/// Where a take might lie, with what speaks for it.
#[derive(Clone, Copy, Debug)]
struct Place {
    score: f64,
    beat: usize,
    /// Where the song's first beat would be, in seconds.
    begins: f64,
    candidate: Candidate,
}

/// Looks for the place.
struct Search<'a> {
    table: &'a SongTable<'a>,
    takes: &'a [TakeTable],
    beats: &'a [OwnBeat],
    unit: Unit,
    song: &'a Arrangement,
    known: Known,
    /// Where a player comes in, in half units from the song's first beat, in order.
    entries: Vec<i64>,
}

impl Search<'_> {
    /// True if a player comes in so many half units into the song.
    fn comes_in(&self, at: i64) -> bool {
        self.entries.binary_search(&at).is_ok()
    }

    /// The best place of all, or of those near where the song is said to begin.
    fn best(&self, near: Option<f64>) -> Option<Place> {
        let all = self.beats.iter().zip(self.takes).enumerate();
        let found = all.filter_map(|(index, (beat, take))| {
            let begins = beat.begins();
            let place = match near {
                Some(said) => self.near(take, begins, said),
                None => self.anywhere(take, begins),
            };
            let (score, candidate) = place?;
            let begins = begins - candidate.shift as f64 * self.unit.period.length;
            let score = score + FIRM * beat.firm;
            Some(Place { score, beat: index, begins, candidate })
        });
        // Of equals the first.
        found.reduce(|best, other| if other.score > best.score { other } else { best })
    }

    fn near(&self, take: &TakeTable, begins: f64, said: f64) -> Option<(f64, Candidate)> {
        let mut found: Option<(f64, Candidate)> = None;
        let mut nearest: Option<(f64, f64, Candidate)> = None;
        for shift in take.shifts(self.table.units.len()) {
            // The offset is where time 0 of the own grid lies in the take.
            let late = begins - shift as f64 * self.unit.period.length - said;
            // The later the player comes in, the further an own beat may have gone by then; but none goes off before
            // there is anything to go off from.
            let since = said.max(self.known.from);
            let far = BESIDE + WIDEST * (take.early - since).max(0.0);
            if late.abs() > far {
                continue;
            }
            let candidate = self.table.score(take, shift, 1);
            let score = candidate.score - 0.8 * (late / far).powi(2);
            if nearest.is_none_or(|(least, ..)| late.abs() < least) {
                nearest = Some((late.abs(), score, candidate));
            }
            if found.is_none_or(|(most, _)| score > most) {
                found = Some((score, candidate));
            }
        }
        // Whose notes go along with no chord is not moved about to where they do by chance.
        match (found, nearest) {
            (Some((score, _)), Some((_, near, candidate))) if score - near < ELSEWHERE => {
                Some((near, candidate))
            }
            (found, _) => found,
        }
    }

    fn anywhere(&self, take: &TakeTable, begins: f64) -> Option<(f64, Candidate)> {
        let bar = self.song.meter.bar().get() as f64 / self.unit.ticks.get() as f64;
        let second = self.unit.period.length;
        let bars = self.song.tempo.nanos(self.song.meter.bar()).seconds();
        let scored = |shift: i64, every: usize| {
            let candidate = self.table.score(take, shift, every);
            let starts = begins - shift as f64 * second - self.known.from;
            let off = [0.0, 1.0, 2.0].map(|count| (starts - count * bars).abs());
            let nearest = off.into_iter().fold(f64::INFINITY, f64::min);
            let counted = COUNTED_IN.0 * (-(nearest / COUNTED_IN.1).powi(2)).exp();
            let cost = LATER * (shift + take.first).max(0) as f64 / bar;
            let comes_in = if self.comes_in(take.entry + 2 * shift) { COMES_IN } else { 0.0 };
            (candidate.score - cost + counted + comes_in, candidate)
        };
        let every = take.units.len().div_ceil(TELLING).max(1);
        let shifts = take.shifts(self.table.units.len());
        let mut likely: Vec<(f64, Candidate)> = shifts.map(|shift| scored(shift, every)).collect();
        if every > 1 {
            likely.sort_by(|one, other| other.0.total_cmp(&one.0));
            likely.truncate(LIKELY);
            likely = likely.iter().map(|(_, candidate)| scored(candidate.shift, 1)).collect();
            likely.sort_by_key(|(_, candidate)| candidate.shift);
        }
        likely.into_iter().reduce(|best, other| if other.0 > best.0 { other } else { best })
    }
}

/// What is known of where a take lies whose first stroke is at `first`.
pub(super) fn known(anchor: Anchor, first: Nanos) -> Known {
    let begins = match anchor {
        Anchor::Begins(at) => Some(Nanos(at.0.saturating_sub(first.0)).seconds()),
        Anchor::Find => None,
    };
    Known { begins, from: -first.seconds() }
}
