//! What is played in each bar: a row of the table, with its sixths, and as soft as it must be.

use super::dice::{dice, line_of};
use super::slot::FASTEST_MILLIS;
use super::steps::{meter_of, steps_of};
use super::table::{PatternTable, Row, played_as, slot};
use super::{CHAIR, Level};
use crate::arrange::{Arrangement, Bar, BarKind};
use crate::coverage::{BarCoverage, Coverage, Job, Singing};
use crate::style::{BanjoStrings, BassNote, Condition, Degree, Loud, Pattern, Slot, Strike};
use crate::theory::added_sixth;
use crate::theory::fretboard::banjo::{BanjoHand, choose_banjo_capo};

/// What one bar is for and what is played in it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct BarPlan {
    pub job: Job,
    /// True if the hand is up the neck: where it vamps, and in a fill between vamps.
    pub up: bool,
    /// What players call the pattern, where it is another than a roll.
    pub name: Option<&'static str>,
    pub pattern: Pattern,
}

/// What is played in each bar of a song, with the bars it is led back to, at a level. `vamps` says that the hand
/// may go up the neck to vamp.
pub(super) fn bar_plans(
    song: &Arrangement,
    open: &Coverage,
    level: Level,
    vamps: bool,
    seed: u64,
) -> Vec<BarPlan> {
    let jobs = jobs(song, open, level);
    let up = up(&jobs, vamps);
    let rolls = rolls(song, seed);
    let plan = |(index, (bar, (job, up))): (usize, (&Bar, (Job, bool)))| {
        let sung = covered(open, index).is_some_and(|covered| covered.singing == Singing::Sings);
        let row = match played_as(job) {
            Job::Roll => rolls.get(index).copied().flatten(),
            _ => row(song, bar, job, seed),
        };
        let mut slots = row.map_or_else(Vec::new, |row| {
            let chosen = |at: usize| slot_of(song, bar, row, level, at);
            (0..steps_of(song, bar)).map(chosen).collect()
        });
        let length = slot(meter_of(song, bar));
        for (at, slot) in (0..).zip(&mut slots) {
            let rolls = matches!(played_as(job), Job::Roll | Job::Boom);
            let behind = sung || bar.is_sung_at(length * at);
            if matches!(job, Job::Sparse | Job::RollSoft) || (rolls && behind) {
                soften(slot);
            } else if job == Job::Lead {
                harden(slot);
            }
        }
        let name = row.filter(|_| played_as(job) != Job::Roll).map(|row| row.name.as_str());
        BarPlan { job, up, name, pattern: pattern(song, bar, slots) }
    };
    song.bars.iter().zip(jobs.into_iter().zip(up)).enumerate().map(plan).collect()
}

/// What is known of a bar. The bars that a round is led back to are its first.
fn covered(open: &Coverage, index: usize) -> Option<&BarCoverage> {
    open.bars.get(index).or_else(|| open.bars.get(index % open.bars.len().max(1)))
}

/// True if a bar for a job is broken by its written tune.
pub(super) fn is_break(bar: &Bar, job: Job) -> bool {
    job == Job::Lead && bar.kind == BarKind::Groove && bar.melody.is_some()
}

/// What each bar is played for: below the level of them all a roll, but where the player has the tune.
fn jobs(song: &Arrangement, open: &Coverage, level: Level) -> Vec<Job> {
    let job = |(index, bar): (usize, &Bar)| {
        let asked = covered(open, index).map_or(Job::Roll, |covered| covered.job);
        let kicks_off = bar.kind == BarKind::Kickoff && asked == Job::Lead;
        if kicks_off || is_break(bar, asked) {
            return Job::Lead;
        }
        let asks = level == Level::Full && bar.kind == BarKind::Groove;
        if asks && asked != Job::Rest { asked } else { Job::Roll }
    };
    song.bars.iter().enumerate().map(job).collect()
}

/// Where the hand is up the neck.
fn up(jobs: &[Job], vamps: bool) -> Vec<bool> {
    let is_vamp = |job: &Job| vamps && matches!(job, Job::Vamp | Job::BoomVamp);
    let mut up: Vec<bool> = jobs.iter().map(is_vamp).collect();
    let mut start = 0;
    for run in jobs.chunk_by(|a, b| a == b) {
        let end = start + run.len();
        let sides = [start.checked_sub(1), Some(end)];
        let between =
            sides.into_iter().all(|side| side.and_then(|side| jobs.get(side)).is_some_and(is_vamp));
        if run.first() == Some(&Job::Fill) && between {
            up.iter_mut().take(end).skip(start).for_each(|up| *up = true);
        }
        start = end;
    }
    up
}

/// A bar of the table for a job. The same line of the chart is played alike whenever it comes round: it can be
/// learned.
fn row(song: &Arrangement, bar: &Bar, job: Job, seed: u64) -> Option<&'static Row> {
    let place = match played_as(job) {
        Job::Boom => bar.turn / 2,
        _ => bar.turn,
    };
    thrown(&rows(song, bar, job), played_as(job), song, bar, (place, seed))
}

/// The rows that may be played in a bar.
fn rows(song: &Arrangement, bar: &Bar, job: Job) -> Vec<&'static Row> {
    let meter = meter_of(song, bar);
    let millis = song.pace.nanos(slot(meter)).seconds() * 1000.0;
    PatternTable::ours().bars(job, meter, millis < FASTEST_MILLIS)
}

/// One of some rows, by the dice.
fn thrown(
    rows: &[&'static Row],
    job: Job,
    song: &Arrangement,
    bar: &Bar,
    (place, seed): (usize, u64),
) -> Option<&'static Row> {
    let roll = dice(seed, [job as u64, line_of(song, bar), place as u64]);
    rows.get((roll % rows.len().max(1) as u64) as usize).copied()
}

/// The roll of each bar, whatever is played there: so a level rolls as the one below does. A roll is kept for two bars,
/// so that the hand finds into it, and one that ends on the thumb is followed by one that does not begin on it.
fn rolls(song: &Arrangement, seed: u64) -> Vec<Option<&'static Row>> {
    let mut all: Vec<Option<&'static Row>> = Vec::with_capacity(song.bars.len());
    let mut last: Option<(&Bar, &'static Row)> = None;
    for bar in &song.bars {
        let pair = |bar: &Bar| (bar.pass, bar.line, bar.turn / 2);
        let mut rows = rows(song, bar, Job::Roll);
        let kept = last.filter(|(before, row)| {
            let follows = pair(before) == pair(bar) && before.start < bar.start;
            follows && joins(row, row) && rows.contains(row)
        });
        if let Some((_, before)) = last
            && rows.iter().any(|row| joins(before, row))
        {
            rows.retain(|row| joins(before, row));
        }
        let chosen = match kept {
            Some((_, row)) => Some(row),
            None => thrown(&rows, Job::Roll, song, bar, (bar.turn / 2, seed)),
        };
        last = chosen.map(|row| (bar, row));
        all.push(chosen);
    }
    all
}

/// True if the thumb need not pick twice in a row from one bar to the next.
fn joins(one: &Row, next: &Row) -> bool {
    let of = |slot: Option<&Slot>| match slot {
        Some(Slot::Strike(strike)) => strike.strings,
        _ => BanjoStrings::NONE,
    };
    let (last, first) = (of(one.slots.last()), of(next.slots.first()));
    !(last.contains(5) && (first.contains(3) || first.contains(4) || first.contains(5)))
}

/// A slot of a row, at a level, over the chord that sounds there.
fn slot_of(song: &Arrangement, bar: &Bar, row: &Row, level: Level, at: usize) -> Slot {
    let place = at % row.slots.len().max(1);
    let plain = row.slots.get(place).copied().unwrap_or(Slot::Ring);
    let sixth = row.sixth.get(place).copied().unwrap_or(plain);
    if level < Level::Sixths || sixth == plain {
        return plain;
    }
    let when = bar.start + slot(meter_of(song, bar)) * at as i64;
    let spans = song.spans.get(bar.spans.clone()).unwrap_or_default();
    let span = spans.iter().rfind(|span| span.start <= when);
    let chord = span.and_then(|span| song.chord(span.chord?));
    // The first note of a chord is one that names it.
    let begins = span.is_some_and(|span| span.start == when);
    let fits = chord.is_some_and(|chord| {
        let hand = BanjoHand::new(chord, choose_banjo_capo(song.key), song.drone);
        added_sixth(chord, song.key)
            .is_some_and(|class| !chord.contains(class) && hand.reaches_note(class))
    });
    if fits && !begins { sixth } else { plain }
}

fn pattern(song: &Arrangement, bar: &Bar, slots: Vec<Slot>) -> Pattern {
    let slot = slot(meter_of(song, bar));
    Pattern { when: Condition::ALWAYS, meter: bar.gait, chance: 1.0, slots, slot }
}

/// Behind a singer: what was plain is felt more than heard, what was stressed is plain.
fn soften(slot: &mut Slot) {
    if let Slot::Strike(strike) = slot {
        strike.loud = match strike.loud {
            Loud::Accent => Loud::Normal,
            Loud::Normal | Loud::Ghost => Loud::Ghost,
        };
    }
}

/// In the player's own break what is plain has weight.
fn harden(slot: &mut Slot) {
    if let Slot::Strike(strike) = slot {
        strike.loud = match strike.loud {
            Loud::Ghost => Loud::Normal,
            Loud::Normal | Loud::Accent => Loud::Accent,
        };
    }
}

/// True if a slot asks for the thumb's bass note.
pub(super) const fn is_bass(strike: Strike) -> bool {
    matches!(strike.bass, Some(BassNote::Degree { degree: Degree::Root | Degree::Fifth, .. }))
}

/// The song with a chair for the banjo in every bar.
pub(super) fn seated(song: &Arrangement) -> Arrangement {
    let mut song = song.clone();
    for bar in &mut song.bars {
        bar.resting = bar.resting.iter().filter(|role| *role != CHAIR).collect();
    }
    song
}
