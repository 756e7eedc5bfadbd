mod text;

use std::num::NonZeroU32;
use std::path::PathBuf;
use std::process::ExitCode;

use super::failure::{Failure, tell};
use super::files::{diary, is_same_file, say_to_stdout, write_whole};
use super::hear::{TakeFile, read_take};
use super::options::{Options, PRACTICE, count_in};
use super::rehearse::rehearsal;
use crate::page::html;
use crate::practice::Stretch;
use crate::rehearsal::{Rehearsal, Rendition, Wishes};
use crate::review::Anchor;
use crate::take::Take;
use crate::time::Nanos;

pub(super) use text::{paragraph, text};

#[derive(Debug, clap::Args)]
pub(super) struct Review {
    /// The song: a file, or a name that `openchair songs` lists
    pub song: PathBuf,
    /// What was recorded of the player alone: a sound file (.wav, .flac, .mp3, .ogg, .m4a) or a .mid file
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
    /// Don't keep the figures of this take for `openchair progress`
    #[arg(long)]
    pub no_log: bool,
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
    say_to_stdout(&out)?;
    if !asked.no_log
        && let Some(why) = diary::keep(&told)
    {
        tell(why);
    }
    Ok(ExitCode::SUCCESS)
}

/// The review of what was recorded beside the band, if the take is that and nothing else is said of it; or of
/// what is laid over the song first.
fn told(asked: &Review) -> Result<crate::review::Review, Failure> {
    let wishes = Wishes {
        stretch: asked.stretch.clone(),
        count_in: asked.count_in.unwrap_or(0),
        ..asked.options.wishes()?
    };
    let (asked_speed, asked_key) = (wishes.speed, wishes.key);
    let mut rehearsal = rehearsal(&asked.song, wishes)?;
    let TakeFile { take, recorded, unheard, .. } = read_take(&asked.take)?;
    if let Some(why) = unheard {
        tell(format!("{}: {why}", asked.take.display()));
    }
    let song = asked.song.to_string_lossy();
    let of_take =
        |why: &dyn std::fmt::Display| Failure::failed(format!("{}: {why}", asked.take.display()));
    let unsaid = asked.count_in.is_none() && asked.stretch.is_none();
    if let Some(recorded) = recorded.filter(|_| unsaid) {
        rehearsal.agrees(&recorded).map_err(Failure::usage)?;
        let told = rehearsal.review_recorded(&recorded, true, NonZeroU32::MIN, &song);
        return told.map_err(|why| of_take(&why));
    }
    let mut remarks = Vec::new();
    let mut band = beside(&rehearsal, &take)?;
    let anchor = |rehearsal: &Rehearsal, band: &Rendition| anchor(asked, rehearsal, band);
    let how = rehearsal.recorded_how(&band, &take);
    let how = how.map_err(|why| of_take(&why))?;
    if let Some(how) = how {
        rehearsal.play_as(how);
        band = beside(&rehearsal, &take)?;
    }
    if let Some((round, bars)) = rehearsal.went_round(&band, &take) {
        // The song as a whole may have fitted at another speed or in another key by chance.
        let mut as_asked = round.clone();
        as_asked.set_speed(asked_speed);
        as_asked.set_key(asked_key);
        let plain = beside(&as_asked, &take)?;
        let how = as_asked.recorded_how(&plain, &take);
        if let Some(how) = how.map_err(|why| of_take(&why))? {
            as_asked.play_as(how);
            remarks.push(how.told());
        }
        rehearsal = as_asked;
        band = beside(&rehearsal, &take)?;
        remarks.push(format!("By its chords it went round {bars}: it is reviewed so."));
    } else if let Some(how) = how {
        remarks.push(how.told());
    }
    let told = rehearsal.review(&band, &take, anchor(&rehearsal, &band), &song);
    let mut told = told.map_err(|why| of_take(&why))?;
    told.remarks.splice(0..0, remarks);
    Ok(told)
}

/// What the band plays of what was asked for, as long as the take may be.
fn beside(rehearsal: &Rehearsal, take: &Take) -> Result<Rendition, Failure> {
    let arrangement = match rehearsal.rounds_of(take.length)? {
        Some(rounds) => rounds,
        None => rehearsal.arrangement()?,
    };
    rehearsal.perform(arrangement).map_err(Failure::failed)
}

/// What is known of where the take lies in what the band plays.
fn anchor(asked: &Review, rehearsal: &Rehearsal, band: &Rendition) -> Anchor {
    asked.count_in.map_or(Anchor::Find, |_| {
        let clicks = rehearsal.count_in_of(&band.arrangement);
        let delay = asked.latency.unwrap_or(0.0) * 1e6;
        Anchor::Begins(Nanos(clicks.0.saturating_add(delay as i64)))
    })
}

/// The most that a recording can be delayed, in milliseconds, in either direction.
const MOST_LATENCY: f64 = 2000.0;

fn latency(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(millis) if millis.abs() <= MOST_LATENCY => Ok(millis),
        _ => Err(format!("write milliseconds from -{MOST_LATENCY} to {MOST_LATENCY}")),
    }
}
