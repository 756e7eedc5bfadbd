use super::coverage::{BarCoverage, Coverage};
use super::moment::moment;
use super::rules::Rules;
use super::{BeatPart, Job, Shares};
use crate::arrange::{Arrangement, Bar};
use crate::chart::{Lead, RoleSet};

/// A pass of the form, the kickoff or the ending, and what the band leaves open in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PassCoverage {
    /// Its number in [`Arrangement::passes`].
    pub pass: usize,
    /// As the form names it.
    pub label: String,
    /// Who is featured.
    pub lead: Option<Lead>,
    /// Its first and last bar, by their numbers in the song as played; 0 in a kickoff.
    pub bars: (usize, usize),
    /// Who plays rhythm in it.
    pub rhythm: RoleSet,
    /// Who rests in it though the band has the role, in some bar at least.
    pub open: RoleSet,
    /// How much of each part of the beat is covered where the band plays on; `None` if it nowhere does.
    pub shares: Option<Shares>,
    /// What is left to do, in order; neighbouring bars with the same job and the same reason are one.
    pub jobs: Vec<JobRun>,
    /// True if the ands are somebody's, however softly they are struck.
    pub(super) ands_struck: bool,
}

/// Bars in a row with one job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobRun {
    /// What is left to do.
    pub job: Job,
    /// In a few words: `vamp: no backbeat`.
    pub say: String,
    /// A teacher's reason.
    pub because: String,
    /// The first and the last bar, by their numbers in the song as played; 0 in a kickoff.
    pub bars: (usize, usize),
    /// How many bars.
    pub count: usize,
}

impl PassCoverage {
    /// The parts of the beat that nobody plays to speak of: less than a quarter of a downbeat or a backbeat,
    /// or less than about half of what a roll gives between them, and no guitar or banjo that has them softly.
    pub fn missing(&self) -> Vec<BeatPart> {
        let Some(shares) = self.shares else { return Vec::new() };
        let rules = Rules::shipped();
        let is_missing = |place: &BeatPart| match place {
            BeatPart::Down | BeatPart::Back => shares.of(*place) < rules.missing,
            BeatPart::And => shares.and < rules.empty && !self.ands_struck,
        };
        BeatPart::ALL.into_iter().filter(is_missing).collect()
    }

    /// In how many bars the player does what, the most first.
    pub fn counts(&self) -> Vec<(Job, usize)> {
        let mut counts: Vec<(Job, usize)> = Job::ALL
            .into_iter()
            .map(|job| {
                let runs = self.jobs.iter().filter(|run| run.job == job);
                (job, runs.map(|run| run.count).sum())
            })
            .filter(|(_, count)| *count > 0)
            .collect();
        counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        counts
    }
}

impl Coverage {
    /// Pass by pass, in order; kickoff and ending are passes too.
    pub fn passes(&self, song: &Arrangement) -> Vec<PassCoverage> {
        let bars: Vec<(&Bar, &BarCoverage)> = song.bars.iter().zip(&self.bars).collect();
        bars.chunk_by(|(one, _), (other, _)| one.pass == other.pass)
            .filter_map(|bars| pass(song, bars))
            .collect()
    }

    /// How much of each part of the beat is covered where the band plays on; `None` if it nowhere does.
    pub fn shares(&self, song: &Arrangement) -> Option<Shares> {
        shares(song, song.bars.iter().zip(&self.bars))
    }
}

fn shares<'a>(
    song: &Arrangement,
    bars: impl IntoIterator<Item = (&'a Bar, &'a BarCoverage)>,
) -> Option<Shares> {
    let plays = |bar: &Bar| moment(song, bar, RoleSet::EMPTY).is_groove();
    let bars = bars.into_iter().filter(|(bar, _)| plays(bar));
    let slots: Vec<_> = bars.flat_map(|(_, covered)| &covered.slots).collect();
    (!slots.is_empty()).then(|| Shares::mean(slots))
}

fn pass(song: &Arrangement, bars: &[(&Bar, &BarCoverage)]) -> Option<PassCoverage> {
    let ((first, _), (last, _)) = (bars.first()?, bars.last()?);
    let start = song.passes.get(first.pass)?;
    let union = |of: fn(&BarCoverage) -> RoleSet| {
        bars.iter().fold(RoleSet::EMPTY, |all, (_, covered)| all.union(of(covered)))
    };
    let same =
        |one: &(&Bar, &BarCoverage), other: &(&Bar, &BarCoverage)| one.1.rule == other.1.rule;
    let run = |bars: &[(&Bar, &BarCoverage)]| {
        let ((first, covered), (last, _)) = (bars.first()?, bars.last()?);
        let rule = covered.rule();
        Some(JobRun {
            job: covered.job,
            say: rule.say(song.meter),
            because: rule.because(song.meter),
            bars: (first.number, last.number),
            count: bars.len(),
        })
    };
    Some(PassCoverage {
        pass: first.pass,
        label: start.label.clone(),
        lead: start.lead,
        bars: (first.number, last.number),
        rhythm: union(|covered| covered.rhythm),
        open: union(|covered| covered.open),
        shares: shares(song, bars.iter().map(|(bar, covered)| (*bar, *covered))),
        jobs: bars.chunk_by(same).filter_map(run).collect(),
        ands_struck: bars.iter().any(|(_, covered)| covered.ands_struck),
    })
}
