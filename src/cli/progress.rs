use std::path::PathBuf;
use std::process::ExitCode;

use super::failure::{Failure, tell};
use super::files::{diary, find_song, say_to_stdout, write_whole};
use crate::chart::read_song;
use crate::page::progress_html;
use crate::progress::{Entry, by_song, words};
use crate::text::{Problems, WIDE};

#[derive(Debug, clap::Args)]
pub(super) struct Progress {
    /// The takes of this song alone: a file, a name that `openchair songs` lists, or a title as it was kept
    pub song: Option<String>,
    /// The takes of this file, as the band's page saves them, in place of your own
    #[arg(long, value_name = "FILE")]
    pub takes: Option<PathBuf>,
    /// Write the takes as a page for a browser, with plots: FILE.html
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
    /// Give the takes as JSON
    #[arg(long)]
    pub json: bool,
}

/// Shows the takes that were reviewed over days.
pub(super) fn run(asked: &Progress) -> Result<ExitCode, Failure> {
    let (all, wrong) = match &asked.takes {
        Some(path) => diary::takes_of(path)
            .map_err(|why| Failure::failed(format!("can't read {}: {why}", path.display())))?,
        None => diary::takes()
            .map_err(|why| Failure::failed(format!("can't read your takes: {why}")))?,
    };
    if !wrong.is_empty() {
        let of =
            asked.takes.as_ref().map_or_else(|| "your takes".into(), |it| it.to_string_lossy());
        tell(format!("{} lines of {of} can't be read; they are left as they are", wrong.len()));
        if all.is_empty() && asked.takes.is_some() {
            return Err(Failure::failed(format!("{of} holds no takes")));
        }
    }
    let takes: Vec<Entry> = match &asked.song {
        None => all,
        Some(song) => {
            let title = title(song);
            let of_song = |take: &Entry| take.song == title || take.song.eq_ignore_ascii_case(song);
            let own: Vec<Entry> = all.into_iter().filter(of_song).collect();
            if own.is_empty() && !asked.json {
                return Err(Failure::failed(format!(
                    "no take of {title} was reviewed yet: `openchair review SONG TAKE` keeps its figures"
                )));
            }
            own
        }
    };
    if let Some(page) = &asked.html {
        write_whole(page, progress_html(&by_song(&takes)).as_bytes())?;
    }
    let out = if asked.json {
        serde_json::to_string_pretty(&takes).map_err(Failure::failed)? + "\n"
    } else {
        words(&by_song(&takes), WIDE)
    };
    say_to_stdout(&out)?;
    Ok(ExitCode::SUCCESS)
}

/// The title of a song that is named by its file or from the list; else what was said is one.
fn title(song: &str) -> String {
    let found = find_song(song.as_ref()).ok();
    let read = found.and_then(|(source, _)| read_song(&source, &mut Problems::new()));
    read.map_or_else(|| song.to_owned(), |(song, _)| song.title)
}
