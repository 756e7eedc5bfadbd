use std::ops::RangeInclusive;

use super::{Hit, Recorded, RecordedBar, SongBar, Source, Take};
use crate::arrange::Arrangement;
use crate::chart::{Role, RoleSet};
use crate::perform::Performance;
use crate::theory::{Key, MidiNote};
use crate::time::{Nanos, Tempo, Ticks};

/// How long before a bar that begins anew a stroke may come and still be meant for it.
const EARLY: Ticks = Ticks::EIGHTH;

/// A stretch of a recording in which the song went on as written, or a loop came round, in one key and
/// at one tempo. A pause does not end it: the bar that it broke off counts as it was played after. A
/// jump, another tempo and another key do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// The key it sounded in.
    pub key: Key,
    /// The tempo it was played at.
    pub tempo: Tempo,
    /// The bars that were looped, by their numbers; `None` if the song was played on.
    pub looped: Option<RangeInclusive<usize>>,
    /// The bars by their numbers, in order, and who was silent in each.
    bars: Vec<(usize, RoleSet)>,
    /// The numbers of those in which time was lost.
    lost_time: Vec<usize>,
    /// What was struck: in which of `bars`, and how far into it.
    strokes: Vec<(usize, Ticks, MidiNote, u8)>,
    /// What was heard as sound, likewise.
    hits: Vec<(usize, Ticks, Hit)>,
}

/// A run laid over the song: what a review takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Laid {
    /// What was struck, on the song's own timeline at a steady tempo: all that was between one stroke
    /// and the next that is not of the song, as pauses, is left out.
    pub take: Take,
    /// Where the song's first beat lies in the take; negative if it was over before.
    pub begins: Nanos,
}

impl Recorded {
    /// The run in which most was played; of two alike the longer one, then the later. `None` if no bar
    /// was heard to its end.
    pub fn best_run(&self) -> Option<Run> {
        let runs = self.runs();
        runs.into_iter().max_by_key(|run| (run.strokes(), run.bars.len()))
    }

    /// All of them, in order.
    pub fn runs(&self) -> Vec<Run> {
        let mut runs: Vec<Vec<(&RecordedBar, &SongBar)>> = Vec::new();
        for bar in &self.bars {
            let Some(song) = bar.song() else { continue };
            match runs.last_mut().filter(|_| song.goes_on) {
                Some(run) => {
                    // It broke off, and this is it again.
                    if run.last().is_some_and(|(_, last)| !last.whole) {
                        run.pop();
                    }
                    run.push((bar, song));
                }
                None => runs.push(vec![(bar, song)]),
            }
        }
        runs.iter_mut().filter_map(|run| self.run(run)).collect()
    }

    fn run(&self, bars: &mut Vec<(&RecordedBar, &SongBar)>) -> Option<Run> {
        if bars.last().is_some_and(|(_, last)| !last.whole) {
            bars.pop();
        }
        let &(_, first) = bars.first()?;
        let (mut strokes, mut hits) = (Vec::new(), Vec::new());
        let mut end = None;
        for (index, (bar, _)) in bars.iter().enumerate() {
            // What comes a little early in the bar before is that bar's, if it is of the run.
            let lead = if end == Some(bar.start) { Ticks::ZERO } else { EARLY };
            end = Some(bar.end());
            let from = self.played.partition_point(|&(at, _)| at < bar.start - lead);
            let here = self.played.iter().skip(from).take_while(|&&(at, _)| at < bar.end());
            strokes.extend(here.filter_map(|(at, played)| {
                let (pitch, velocity) = played.struck()?;
                Some((index, *at - bar.start, pitch, velocity))
            }));
            let from = self.hits.partition_point(|&(at, _)| at < bar.start - lead);
            let here = self.hits.iter().skip(from).take_while(|&&(at, _)| at < bar.end());
            hits.extend(here.map(|(at, hit)| (index, *at - bar.start, hit.clone())));
        }
        let mut tempos: Vec<Tempo> =
            bars.iter().filter_map(|(bar, _)| self.tempo_at(bar.start)).collect();
        // An ending may be slower.
        tempos.sort_unstable_by_key(|tempo| tempo.micros_per_quarter());
        let tempo = *tempos.get(tempos.len() / 2)?;
        let numbers = || bars.iter().map(|(_, song)| song.number);
        let wrap = numbers().zip(numbers().skip(1)).find(|&(from, to)| to != 0 && to <= from);
        Some(Run {
            key: first.key,
            tempo,
            looped: wrap.map(|(last, first)| first..=last),
            bars: bars.iter().map(|(_, song)| (song.number, song.silent)).collect(),
            lost_time: bars
                .iter()
                .filter(|(_, it)| it.lost_time)
                .map(|(_, it)| it.number)
                .collect(),
            strokes,
            hits,
        })
    }
}

impl Run {
    /// How many bars it has.
    pub fn len(&self) -> usize {
        self.bars.len()
    }

    /// True if it has none.
    pub fn is_empty(&self) -> bool {
        self.bars.is_empty()
    }

    /// How many strings were struck.
    pub fn strokes(&self) -> usize {
        self.strokes.len() + self.hits.len()
    }

    /// The numbers of its first and last bar.
    pub fn ends(&self) -> Option<(usize, usize)> {
        Some((self.bars.first()?.0, self.bars.last()?.0))
    }

    /// The highest number of a bar.
    pub fn highest(&self) -> usize {
        self.bars.iter().map(|(number, _)| *number).max().unwrap_or(0)
    }

    /// The bars, by their numbers in order, in which the band was not heard as it was sent, since time was lost.
    pub fn lost_time(&self) -> &[usize] {
        &self.lost_time
    }

    /// True if a role was silent all along.
    pub fn is_without(&self, role: Role) -> bool {
        self.bars.iter().all(|(_, silent)| silent.contains(role))
    }

    /// The song as this run heard it, out of the whole song in the run's key and at its tempo: the
    /// loop's bars as often as they came, if it is one, and in each bar those silent who were. `None`
    /// if the song has no such bars.
    pub fn heard_of(&self, whole: &Arrangement) -> Option<Arrangement> {
        let mut song = match &self.looped {
            None => whole.clone(),
            Some(numbers) => {
                let one = numbers.end().checked_sub(*numbers.start())? + 1;
                let before = self.bars.first()?.0.checked_sub(*numbers.start())?;
                let rounds = (before + self.bars.len()).div_ceil(one);
                whole.excerpt(numbers.clone(), rounds)?
            }
        };
        let first = self.first_in(&song)?;
        for (bar, &(number, silent)) in song.bars.iter_mut().skip(first).zip(&self.bars) {
            if bar.number != number {
                return None;
            }
            bar.resting = bar.resting.union(silent);
        }
        Some(song)
    }

    /// Lays what was struck over the song as [`Self::heard_of`] gave it and as the band performed it.
    /// `None` if the song has no such bars.
    pub fn laid_over(&self, song: &Arrangement, performance: &Performance) -> Option<Laid> {
        let first = self.first_in(song)?;
        let bars = song.bars.get(first..)?;
        let begun = bars.first()?.start;
        // A little room before: for what comes early, and for an ear that wants silence first.
        let from = performance.nanos(begun - EARLY);
        let last = bars.get(..self.bars.len())?.last()?;
        let notes = self.strokes.iter().filter_map(|&(bar, place, pitch, velocity)| {
            let at = performance.nanos(bars.get(bar)?.start + place);
            Some((Nanos(at.0 - from.0), pitch, velocity))
        });
        let length = Nanos(performance.nanos(last.end()).0 - from.0);
        let mut take = Take::from_notes(notes, length, Source::Midi);
        if !self.hits.is_empty() {
            let heard = self.hits.iter().filter_map(|(bar, place, hit)| {
                let at = performance.nanos(bars.get(*bar)?.start + *place);
                Some(Hit { at: Nanos(at.0 - from.0), ..hit.clone() })
            });
            take.hits.extend(heard);
            take.hits.sort_by_key(|hit| hit.at);
            take.source = Source::Sound;
        }
        Some(Laid { take, begins: Nanos(performance.nanos(song.start).0 - from.0) })
    }

    /// Which bar of the song its first one is.
    fn first_in(&self, song: &Arrangement) -> Option<usize> {
        let number = self.bars.first()?.0;
        if number > 0 {
            return song.bars.iter().position(|bar| bar.number == number);
        }
        // Those of a kickoff have no numbers of their own: counted back from the form.
        let of_kickoff = self.bars.iter().take_while(|(number, _)| *number == 0).count();
        song.kickoff_bars().checked_sub(of_kickoff)
    }
}
