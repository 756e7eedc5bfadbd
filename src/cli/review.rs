use std::num::NonZeroU32;
use std::path::PathBuf;
use std::process::ExitCode;

use super::args::{Options, PRACTICE, count_in};
use super::export::is_same_file;
use super::failure::Failure;
use super::output::{to_stdout, write_whole};
use super::recorded::Beside;
use super::rehearse::song_and_style;
use super::review_command::ready;
use super::review_text::text;
use super::take_file::{TakeFile, read_take};
use crate::arrange::{Arrangement, arrange};
use crate::chart::RoleSet;
use crate::coverage::coverage;
use crate::page::html;
use crate::perform::perform;
use crate::practice::Stretch;
use crate::review::{Anchor, review};
use crate::take::Take;
use crate::time::Nanos;

#[derive(Debug, clap::Args)]
pub(super) struct Review {
    /// The song file
    pub song: PathBuf,
    /// What was recorded of the player alone: a .wav or a .mid file
    pub take: PathBuf,
    #[command(flatten)]
    pub options: Options,
    /// The take begins with the first click of so many bars of count-in; without it, it is laid where it
    /// fits best
    #[arg(long, value_name = "BARS", help_heading = PRACTICE, allow_negative_numbers = true, value_parser = count_in)]
    pub count_in: Option<u32>,
    /// By how much the recording was delayed, in milliseconds
    #[arg(long, value_name = "MS", help_heading = PRACTICE, requires = "count_in", allow_negative_numbers = true, value_parser = latency)]
    pub latency: Option<f64>,
    /// The take goes round and round: a section (verse, verse:2), or bars (5-8, 5)
    #[arg(long = "loop", value_name = "SECTION|BARS", help_heading = PRACTICE, value_parser = Stretch::parse)]
    pub stretch: Option<Stretch>,
    /// Write the review as a page for a browser as well, with plots: FILE.html
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
    /// Give the review as JSON
    #[arg(long)]
    pub json: bool,
}

/// Reviews a take.
pub(super) fn run(asked: &Review) -> Result<ExitCode, Failure> {
    let page = asked.html.as_deref();
    if page.is_some_and(|page| is_same_file(page, &asked.song) || is_same_file(page, &asked.take)) {
        return Err(Failure::Usage(
            "--html: this would write over the song or the take; give the page another name".into(),
        ));
    }
    let told = told(asked)?;
    if let Some(page) = &asked.html {
        write_whole(page, html(&told).as_bytes())?;
    }
    let out = if asked.json {
        let json = serde_json::to_string_pretty(&told).map_err(Failure::failed)?;
        format!("{json}\n")
    } else {
        text(&told)
    };
    to_stdout(out.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// The review of what was recorded beside the band, if the take is that and nothing else is said of it; or of
/// what is laid over the song first.
fn told(asked: &Review) -> Result<crate::review::Review, Failure> {
    let (song, style) = song_and_style(&asked.song, &asked.options)?;
    let TakeFile { take, recorded, .. } = read_take(&asked.take)?;
    let unsaid = asked.count_in.is_none() && asked.stretch.is_none();
    if let Some(recorded) = recorded.filter(|_| unsaid) {
        let beside =
            Beside { path: &asked.song, song: &song, style: &style, options: &asked.options };
        beside.agrees(&recorded).map_err(Failure::Usage)?;
        let told = beside.review(&recorded, &asked.options.sit_out, NonZeroU32::MIN);
        return told.map_err(|why| Failure::failed(format!("{}: {why}", asked.take.display())));
    }
    let (mut plan, chairs) =
        asked.options.plan(asked.count_in.unwrap_or(0)).map_err(Failure::usage)?;
    plan.tag = style.tag;
    let mut song = arrange(&song, &plan).map_err(Failure::usage)?;
    chairs.lay_out(&mut song);
    let clicks = song.tempo.nanos(song.start);
    if let Some(stretch) = &asked.stretch {
        song = rounds(&song, stretch, &take)?;
    }
    let played = perform(&song, &style, asked.options.seed).map_err(Failure::failed)?;
    let open = coverage(&song, &played, RoleSet::EMPTY);
    let anchor = asked.count_in.map_or(Anchor::Find, |_| {
        let delay = asked.latency.unwrap_or(0.0) * 1e6;
        Anchor::Begins(Nanos(clicks.0.saturating_add(delay as i64)))
    });
    let mut told = review(&song, &played, &open, &take, anchor)
        .map_err(|why| Failure::failed(format!("{}: {why}", asked.take.display())))?;
    told.advice.command = ready(&asked.song, &asked.options, &told.advice);
    Ok(told)
}

/// The stretch, as often as the take may have gone round it.
fn rounds(song: &Arrangement, stretch: &Stretch, take: &Take) -> Result<Arrangement, Failure> {
    let wrong = |why: &dyn std::fmt::Display| Failure::Usage(format!("--loop: {why}"));
    let bars = stretch.bars(song).map_err(|why| wrong(&why))?;
    let nothing = || wrong(&"no bar of the form is in it");
    let once = song.excerpt(bars.clone(), 1).ok_or_else(nothing)?;
    let round = song.tempo.nanos(once.end - once.start).0.max(1);
    // One more for whoever drags, and one that may have begun.
    let rounds = usize::try_from(take.length.0 / round).unwrap_or(0).saturating_add(2);
    song.excerpt(bars, rounds).ok_or_else(nothing)
}

/// The most that a recording can be delayed, in milliseconds, in either direction.
const MOST_LATENCY: f64 = 2000.0;

fn latency(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(millis) if millis.abs() <= MOST_LATENCY => Ok(millis),
        _ => Err(format!("write milliseconds from -{MOST_LATENCY} to {MOST_LATENCY}")),
    }
}
