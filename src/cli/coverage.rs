use std::path::PathBuf;
use std::process::ExitCode;

use serde::Serialize;

use super::args::Options;
use super::coverage_text::text;
use super::failure::Failure;
use super::output::to_stdout;
use super::rehearse::rehearse;
use crate::arrange::Arrangement;
use crate::chart::{Lead, Role, RoleSet};
use crate::coverage::{
    BarCoverage, Coverage as Covered, Job, JobRun, PassCoverage, Place, Shares, Singing, coverage,
};

#[derive(Debug, clap::Args)]
pub(super) struct Coverage {
    /// The song file
    pub song: PathBuf,
    #[command(flatten)]
    pub options: Options,
    /// List every bar
    #[arg(long)]
    pub bars: bool,
    /// Give it as JSON
    #[arg(long)]
    pub json: bool,
}

/// Says what the band covers and what it leaves for the player to do.
pub(super) fn run(asked: &Coverage) -> Result<ExitCode, Failure> {
    let rehearsed = rehearse(&asked.song, &asked.options, 0)?;
    let song = &rehearsed.arrangement;
    let covered = coverage(song, &rehearsed.performance, RoleSet::EMPTY);
    let report = Report::new(song, &covered, &rehearsed.style.name, asked.bars);
    let words = if asked.json {
        serde_json::to_string_pretty(&report).map_err(Failure::failed)? + "\n"
    } else {
        text(&report)
    };
    to_stdout(words.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// All that is said.
#[derive(Debug, Serialize)]
pub(super) struct Report {
    pub title: String,
    pub style: String,
    pub key: String,
    pub meter: &'static str,
    pub tempo: f64,
    pub band: Vec<Role>,
    /// Which beats of the bar are meant.
    pub beats: Beats,
    pub passes: Vec<Pass>,
    pub whole: Whole,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bars: Option<Vec<BarRow>>,
}

/// The parts of the beat, as players of the meter count them.
#[derive(Debug, Serialize)]
pub(super) struct Beats {
    pub downbeats: &'static str,
    pub backbeats: &'static str,
    pub ands: &'static str,
}

#[derive(Debug, Serialize)]
pub(super) struct Pass {
    pub label: String,
    pub lead: Option<Lead>,
    pub bars: (usize, usize),
    /// Who plays rhythm.
    pub plays: Vec<Role>,
    pub open: Vec<Role>,
    /// In percent.
    pub covered: Option<Percents>,
    pub missing: Vec<&'static str>,
    pub jobs: Vec<Run>,
}

#[derive(Debug, Serialize)]
pub(super) struct Run {
    pub job: Job,
    pub bars: (usize, usize),
    pub count: usize,
    pub say: String,
    pub because: String,
}

/// The whole song.
#[derive(Debug, Serialize)]
pub(super) struct Whole {
    pub covered: Option<Percents>,
    /// In how many bars of the song what is to be done, the most first.
    pub jobs: Vec<Count>,
}

#[derive(Debug, Serialize)]
pub(super) struct Count {
    pub job: Job,
    pub bars: usize,
}

#[derive(Debug, Serialize)]
pub(super) struct BarRow {
    pub number: usize,
    pub pass: String,
    pub chords: String,
    pub singing: Singing,
    pub covered: Percents,
    pub job: Job,
}

#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct Percents {
    pub downbeats: u16,
    pub backbeats: u16,
    pub ands: u16,
}

impl From<Shares> for Percents {
    fn from(shares: Shares) -> Self {
        let [downbeats, backbeats, ands] = Place::ALL.map(|place| (shares.of(place) + 5) / 10);
        Self { downbeats, backbeats, ands }
    }
}

impl Report {
    fn new(song: &Arrangement, covered: &Covered, style: &str, bars: bool) -> Self {
        let [downbeats, backbeats, ands] = Place::ALL.map(|place| place.beats(song.meter));
        let passes = covered.passes(song);
        let mut jobs: Vec<Count> = Vec::new();
        for (job, bars) in passes.iter().flat_map(PassCoverage::counts) {
            match jobs.iter_mut().find(|count| count.job == job) {
                Some(count) => count.bars += bars,
                None => jobs.push(Count { job, bars }),
            }
        }
        jobs.sort_by_key(|count| (std::cmp::Reverse(count.bars), count.job));
        let row = |(bar, covered): (&crate::arrange::Bar, &BarCoverage)| BarRow {
            number: bar.number,
            pass: song.passes.get(bar.pass).map_or_else(String::new, |pass| pass.label.clone()),
            chords: super::bar_words::bar_words(song, bar),
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
            beats: Beats { downbeats, backbeats, ands },
            whole: Whole { covered: covered.shares(song).map(Percents::from), jobs },
            bars: bars.then(|| song.bars.iter().zip(&covered.bars).map(row).collect()),
            passes: passes.into_iter().map(Pass::from).collect(),
        }
    }
}

impl From<PassCoverage> for Pass {
    fn from(pass: PassCoverage) -> Self {
        let run = |run: JobRun| Run {
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
            missing: pass.missing().into_iter().map(Place::as_str).collect(),
            label: pass.label,
            jobs: pass.jobs.into_iter().map(run).collect(),
        }
    }
}
