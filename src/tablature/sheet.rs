use std::ops::RangeInclusive;

use super::chord_fact::{ChordFact, chord_facts};
use crate::arrange::{Arrangement, Bar};
use crate::backup::{Backup, CHAIR, Level, PlayedLick};
use crate::chart::{Role, RoleSet};
use crate::coverage::{BeatPart, Coverage, Job};
use crate::perform::{Pick, Swing};
use crate::style::Feel;
use crate::theory::{Chord, Key};
use crate::time::{BarMeter, Meter, Tempo, Ticks};

/// A banjo part as it is written out, bar for bar.
#[derive(Clone, Debug, PartialEq)]
pub struct Tablature {
    /// The song's title.
    pub title: String,
    /// Who made the song.
    pub composer: Option<String>,
    /// The key it sounds in.
    pub key: Key,
    /// The song's meter.
    pub meter: Meter,
    /// The tempo, practice speed included.
    pub tempo: Tempo,
    /// How the band swings. What is written is even.
    pub swing: Swing,
    /// The fret of the banjo's capo, 0 for none.
    pub capo: u8,
    /// How much of the craft the part shows.
    pub level: Level,
    /// The kickoff, the passes of the form and the ending.
    pub passes: Vec<TabPass>,
    /// The bars.
    pub bars: Vec<TabBar>,
    /// Each chord once, in the order in which it first comes.
    pub chords: Vec<ChordFact>,
}

/// A pass of the form as it is headed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TabPass {
    /// As the form names it.
    pub label: String,
    /// Whose chairs are open in it, the banjo's own apart.
    pub open: RoleSet,
    /// What the player has to do, what takes most bars first.
    pub jobs: Vec<Job>,
    /// True if the band strikes something together in it, and the player with it.
    pub together: bool,
}

/// A bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TabBar {
    /// Its number in the song as played; 0 in a kickoff.
    pub number: usize,
    /// Where it begins in the song.
    pub start: Ticks,
    /// Its meter.
    pub meter: BarMeter,
    /// Its pass, in [`Tablature::passes`].
    pub pass: usize,
    /// True for the first bar of a line of the chart.
    pub opens_line: bool,
    /// What the player has to do.
    pub job: Job,
    /// Its chords. The first stands at its beginning, though it may have begun before.
    pub chords: Vec<ChordMark>,
    /// The name of the lick that stands in it, if one does.
    pub lick: Option<String>,
    /// What is picked, in the order of time.
    pub strokes: Vec<TabColumn>,
}

/// A chord over a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ChordMark {
    /// Where, counted from the bar's beginning.
    pub at: Ticks,
    /// The chord; `None` for N.C.
    pub chord: Option<Chord>,
    /// True if it sounds on from the bar before.
    pub held: bool,
}

/// Strings picked at once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TabColumn {
    /// When, counted from the bar's beginning, on the even grid.
    pub at: Ticks,
    /// How long it is written: until the next stroke or the end of the bar, but a strike that the hand lets go
    /// no longer than a step of the bar's grid.
    pub length: Ticks,
    /// The strings, the first string first.
    pub picks: Vec<Pick>,
}

/// Writes a backup out; `swing` is that of the band's performance.
pub fn tablature(
    song: &Arrangement,
    swing: Swing,
    open: &Coverage,
    backup: &Backup,
    level: Level,
) -> Tablature {
    let mut picks = backup.picks.iter().peekable();
    let mut bars = Vec::with_capacity(song.bars.len());
    for (index, bar) in song.bars.iter().enumerate() {
        let mut own: Vec<Pick> = Vec::new();
        while let Some(pick) = picks.next_if(|pick| pick.bar as usize <= index) {
            own.push(*pick);
        }
        let covered = open.bars.get(index);
        let chords =
            song.spans.get(bar.spans.clone()).unwrap_or_default().iter().map(|span| ChordMark {
                at: (span.start - bar.start).max(Ticks::ZERO),
                chord: span.chord.and_then(|id| song.chord(id)).copied(),
                held: span.start < bar.start,
            });
        bars.push(TabBar {
            number: bar.number,
            start: bar.start,
            meter: bar.meter,
            pass: bar.pass,
            opens_line: bar.turn == 0,
            job: covered.map_or(Job::Rest, |covered| covered.job),
            chords: chords.collect(),
            lick: lick(backup, bar),
            strokes: strokes(own, bar),
        });
    }
    let passes = song
        .passes
        .iter()
        .enumerate()
        .map(|(index, pass)| {
            let covered = bars.iter().zip(&open.bars);
            let of_pass = || covered.clone().filter(|(bar, _)| bar.pass == index);
            let out = of_pass().fold(RoleSet::EMPTY, |set, (_, covered)| set.union(covered.open));
            let alone = of_pass().filter(|(bar, _)| !bar.is_together());
            TabPass {
                label: pass.label.clone(),
                open: out.iter().filter(|&role| role != CHAIR).collect(),
                jobs: jobs(alone.map(|(_, covered)| covered.job)),
                together: of_pass().any(|(bar, _)| bar.is_together()),
            }
        })
        .collect();
    Tablature {
        title: song.title.clone(),
        composer: None,
        key: song.key,
        meter: song.meter,
        tempo: song.tempo,
        swing,
        capo: backup.capo,
        level,
        passes,
        bars,
        chords: chord_facts(song, song.bars.iter(), backup.capo),
    }
}

/// The lick that takes most of a bar.
fn lick(backup: &Backup, bar: &Bar) -> Option<String> {
    let share = |lick: &PlayedLick| (lick.end.min(bar.end()) - lick.start.max(bar.start)).get();
    let most = backup.licks.iter().max_by_key(|lick| share(lick));
    most.filter(|lick| share(lick) > 0).map(|lick| lick.name.to_string())
}

/// The jobs of some bars, what takes most of them first.
fn jobs(of: impl Iterator<Item = Job>) -> Vec<Job> {
    let mut counts = Job::ALL.map(|job| (0_usize, job));
    for job in of {
        if let Some((count, _)) = counts.iter_mut().find(|(_, other)| *other == job) {
            *count += 1;
        }
    }
    // Of equals in the order in which they are listed.
    counts.sort_by_key(|(count, _)| std::cmp::Reverse(*count));
    counts.into_iter().filter(|(count, _)| *count > 0).map(|(_, job)| job).collect()
}

/// The picks of a bar as strokes.
fn strokes(mut picks: Vec<Pick>, bar: &Bar) -> Vec<TabColumn> {
    picks.retain(|pick| pick.at >= bar.start && pick.at < bar.end());
    picks.sort_by_key(|pick| (pick.at, pick.string));
    let mut strokes: Vec<TabColumn> = Vec::new();
    for pick in picks {
        let at = pick.at - bar.start;
        match strokes.last_mut() {
            Some(stroke) if stroke.at == at => stroke.picks.push(pick),
            _ => strokes.push(TabColumn { at, length: Ticks::ZERO, picks: vec![pick] }),
        }
    }
    let mut next = bar.meter.bar();
    for stroke in strokes.iter_mut().rev() {
        let ring = next - stroke.at;
        let clipped = stroke.is_clipped();
        stroke.length = if clipped { ring.min(BeatPart::grid(bar.gait)) } else { ring };
        next = stroke.at;
    }
    strokes
}

impl Tablature {
    /// The bars with these numbers alone; `None` if there is none. Kickoff and ending are no part of it.
    pub fn only(&self, numbers: RangeInclusive<usize>) -> Option<Self> {
        let bars: Vec<TabBar> = self
            .bars
            .iter()
            .filter(|bar| bar.number > 0 && numbers.contains(&bar.number))
            .cloned()
            .collect();
        if bars.is_empty() {
            return None;
        }
        let count = |fact: &ChordFact| {
            let has = |bar: &&TabBar| bar.chords.iter().any(|mark| mark.chord == Some(fact.chord));
            bars.iter().filter(has).count()
        };
        let heard = self.chords.iter().map(|fact| (count(fact), fact));
        let chords = heard
            .filter(|(bars, _)| *bars > 0)
            .map(|(bars, fact)| ChordFact { bars, ..fact.clone() })
            .collect();
        Some(Self { bars, chords, ..self.clone() })
    }

    /// True if the bar at an index is the first of its pass here.
    pub fn opens_pass(&self, index: usize) -> bool {
        let pass = |index: usize| self.bars.get(index).map(|bar| bar.pass);
        index.checked_sub(1).is_none_or(|before| pass(before) != pass(index))
    }

    /// What a pass is headed with, the label apart: whose chairs are open, and what the player has to do.
    pub fn heading(&self, pass: &TabPass) -> String {
        let out: Vec<&str> = pass.open.iter().map(Role::as_str).collect();
        let mut jobs: Vec<&str> = pass.jobs.iter().take(3).map(|job| job.as_str()).collect();
        if jobs.is_empty() && pass.together {
            jobs.push(TOGETHER);
        }
        let jobs = jobs.join(", ");
        match (out.as_slice(), jobs.as_str()) {
            ([], jobs) => jobs.to_owned(),
            (out, jobs) => format!("{} out: {jobs}", crate::text::list(out, "and")),
        }
    }

    /// How it swings, in words; `None` if it is even.
    pub fn swing_words(&self) -> Option<String> {
        let pair = if self.swing.pair() == Ticks::EIGHTH { "sixteenth" } else { "eighth" };
        let share = self.swing.share();
        (share > Feel::EVEN).then(|| {
            format!("Swing: of two {pair}s the first takes {:.0} % of the time", share * 100.0)
        })
    }

    /// The fret where the short string is held down: it begins at the fifth, and the capo raises it too.
    /// `None` without a capo.
    pub const fn spike(&self) -> Option<u8> {
        match self.capo {
            0 => None,
            capo => Some(5 + capo),
        }
    }
}

/// What the player has to do where the band strikes together.
const TOGETHER: &str = "with the band";

impl TabBar {
    /// True if the band strikes together and rests otherwise, and the player with it.
    pub fn is_together(&self) -> bool {
        self.job == Job::Rest && !self.strokes.is_empty()
    }

    /// What the player has to do, in words.
    pub fn job_word(&self) -> &'static str {
        if self.is_together() { TOGETHER } else { self.job.as_str() }
    }
}

impl TabColumn {
    /// True if the left hand lets go of all of it at once.
    pub fn is_clipped(&self) -> bool {
        self.picks.iter().all(Pick::is_choked)
    }
}
