use std::path::PathBuf;
use std::process::ExitCode;

use super::failure::{Failure, tell};
use super::files::{diary, is_same_file, say_to_stdout, write_whole};
use super::hear::{TakeFile, read_take};
use super::options::{Options, PRACTICE, count_in};
use super::rehearse::rehearsal;
use crate::page::html;
use crate::practice::Stretch;
use crate::rehearsal::{NotTold, Wishes};
use crate::review::words;
use crate::text::WIDE;
use crate::time::Nanos;

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
        words(&told, WIDE)
    };
    say_to_stdout(&out)?;
    if !asked.no_log
        && let Some(why) = diary::keep(&told)
    {
        tell(why);
    }
    Ok(ExitCode::SUCCESS)
}

/// The review of the take.
fn told(asked: &Review) -> Result<crate::review::Review, Failure> {
    let wishes = Wishes {
        stretch: asked.stretch.clone(),
        count_in: asked.count_in.unwrap_or(0),
        ..asked.options.wishes()?
    };
    let rehearsal = rehearsal(&asked.song, wishes)?;
    let TakeFile { take, recorded, unheard, .. } = read_take(&asked.take)?;
    if let Some(why) = unheard {
        tell(format!("{}: {why}", asked.take.display()));
    }
    let delay = asked.count_in.map(|_| Nanos((asked.latency.unwrap_or(0.0) * 1e6) as i64));
    let song = asked.song.to_string_lossy();
    rehearsal.review_take(&take, recorded.as_ref(), delay, &song).map_err(|why| match why {
        NotTold::Played(why) => why.into(),
        NotTold::Disagrees(why) => Failure::usage(why),
        NotTold::Style(why) => Failure::failed(why),
        NotTold::Recorded(_) | NotTold::Take(_) => {
            Failure::failed(format!("{}: {why}", asked.take.display()))
        }
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
