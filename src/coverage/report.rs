use serde::Serialize;

use super::{BarCoverage, BeatPart, Coverage, Job, JobRun, PassCoverage, Shares, Singing};
use crate::arrange::{Arrangement, Bar, bar_words};
use crate::chart::{Lead, Role};

/// All that is said of what the band covers, as `--json` and a reader's text have it.
#[derive(Debug, Serialize)]
pub struct CoverageReport {
    /// The song's title.
    pub title: String,
    /// The style's name.
    pub style: String,
    /// The key it sounds in.
    pub key: String,
    /// The meter.
    pub meter: &'static str,
    /// Beats a minute, practice speed included, to a tenth.
    pub tempo: f64,
    /// The line-up.
    pub band: Vec<Role>,
    /// Which beats of the bar are meant.
    pub beats: BeatWords,
    /// Each pass, kickoff and ending too.
    pub passes: Vec<PassReport>,
    /// All of it.
    pub whole: WholeReport,
    /// Each bar, if they were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bars: Option<Vec<BarReport>>,
}

/// The parts of the beat, as players of the meter count them.
#[derive(Debug, Serialize)]
pub struct BeatWords {
    /// The downbeats.
    pub downbeats: &'static str,
    /// The backbeats.
    pub backbeats: &'static str,
    /// What lies between.
    pub ands: &'static str,
}

/// A pass.
#[derive(Debug, Serialize)]
pub struct PassReport {
    /// As the form names it.
    pub label: String,
    /// Who is featured.
    pub lead: Option<Lead>,
    /// Its first and last bar, by their numbers; 0 in a kickoff.
    pub bars: (usize, usize),
    /// Who plays rhythm.
    pub plays: Vec<Role>,
    /// Who rests.
    pub open: Vec<Role>,
    /// How much the band covers; `None` where it nowhere plays on.
    pub covered: Option<Percents>,
    /// The parts of the beat that nobody plays to speak of.
    pub missing: Vec<&'static str>,
    /// What is left to the player, in order.
    pub jobs: Vec<RunReport>,
}

/// Bars in a row with one job.
#[derive(Debug, Serialize)]
pub struct RunReport {
    /// What is left to do.
    pub job: Job,
    /// The first and the last bar, by their numbers; 0 in a kickoff.
    pub bars: (usize, usize),
    /// How many bars.
    pub count: usize,
    /// In a few words.
    pub say: String,
    /// A teacher's reason.
    pub because: String,
}

/// The whole song.
#[derive(Debug, Serialize)]
pub struct WholeReport {
    /// How much the band covers; `None` where it nowhere plays on.
    pub covered: Option<Percents>,
    /// In how many bars of the song what is to be done, the most first.
    pub jobs: Vec<JobCount>,
}

/// A job, and in how many bars it is the player's.
#[derive(Debug, Serialize)]
pub struct JobCount {
    /// The job.
    pub job: Job,
    /// How many bars.
    pub bars: usize,
}

/// A bar.
#[derive(Debug, Serialize)]
pub struct BarReport {
    /// Its number in the song as played; 0 in a kickoff.
    pub number: usize,
    /// Its pass, as the form names it.
    pub pass: String,
    /// Its chords, as a chart writes them.
    pub chords: String,
    /// What the singer does.
    pub singing: Singing,
    /// How much the band covers.
    pub covered: Percents,
    /// What is left to do.
    pub job: Job,
}

/// How much of each part of the beat is covered, in percent.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Percents {
    /// Of the downbeats.
    pub downbeats: u16,
    /// Of the backbeats.
    pub backbeats: u16,
    /// Of what lies between.
    pub ands: u16,
}

impl From<Shares> for Percents {
    fn from(shares: Shares) -> Self {
        let [downbeats, backbeats, ands] = BeatPart::ALL.map(|place| (shares.of(place) + 5) / 10);
        Self { downbeats, backbeats, ands }
    }
}

impl CoverageReport {
    /// Of what the band covers, in a style of that name; with every bar if they are asked for.
    pub fn new(song: &Arrangement, covered: &Coverage, style: &str, bars: bool) -> Self {
        let [downbeats, backbeats, ands] = BeatPart::ALL.map(|place| place.beats(song.meter));
        let passes = covered.passes(song);
        let mut jobs: Vec<JobCount> = Vec::new();
        for (job, bars) in passes.iter().flat_map(PassCoverage::counts) {
            match jobs.iter_mut().find(|count| count.job == job) {
                Some(count) => count.bars += bars,
                None => jobs.push(JobCount { job, bars }),
            }
        }
        jobs.sort_by_key(|count| (std::cmp::Reverse(count.bars), count.job));
        let row = |(bar, covered): (&Bar, &BarCoverage)| BarReport {
            number: bar.number,
            pass: song.passes.get(bar.pass).map_or_else(String::new, |pass| pass.label.clone()),
            chords: bar_words(song, bar),
            singing: covered.singing,
            covered: covered.shares.into(),
            job: covered.job,
        };
        Self {
            title: song.title.clone(),
            style: style.to_owned(),
            key: song.key.to_string(),
            meter: song.meter.as_str(),
            tempo: (song.tempo.beats_per_minute(song.meter) * 10.0).round() / 10.0,
            band: song.band.iter().collect(),
            beats: BeatWords { downbeats, backbeats, ands },
            whole: WholeReport { covered: covered.shares(song).map(Percents::from), jobs },
            bars: bars.then(|| song.bars.iter().zip(&covered.bars).map(row).collect()),
            passes: passes.into_iter().map(PassReport::from).collect(),
        }
    }
}

impl From<PassCoverage> for PassReport {
    fn from(pass: PassCoverage) -> Self {
        let run = |run: JobRun| RunReport {
            job: run.job,
            bars: run.bars,
            count: run.count,
            say: run.say,
            because: run.because,
        };
        Self {
            lead: pass.lead,
            bars: pass.bars,
            plays: pass.rhythm.iter().collect(),
            open: pass.open.iter().collect(),
            covered: pass.shares.map(Percents::from),
            missing: pass.missing().into_iter().map(BeatPart::as_str).collect(),
            label: pass.label,
            jobs: pass.jobs.into_iter().map(run).collect(),
        }
    }
}
