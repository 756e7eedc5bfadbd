use std::fmt::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use serde::Serialize;

use super::failure::Failure;
use super::files::{OwnSongs, read, say_to_stdout};
use crate::chart::read_song;
use crate::rehearsal::{Shipped, SongFacts};
use crate::text::{Problems, Source};

#[derive(Debug, clap::Args)]
pub(super) struct Songs {
    /// Give the list as JSON
    #[arg(long)]
    pub json: bool,
}

/// One song of the list.
#[derive(Debug, Serialize)]
struct Row {
    name: String,
    /// The user's file; none for a song that comes with the program.
    file: Option<PathBuf>,
    #[serde(flatten)]
    facts: Option<SongFacts>,
    /// True if its file has mistakes or can't be read.
    wrong: bool,
}

impl Row {
    fn new(name: String, file: Option<PathBuf>, source: Option<&Source>) -> Self {
        let song = source.and_then(|source| read_song(source, &mut Problems::new()));
        let facts = song.map(|(song, _)| SongFacts::of(&song));
        Self { name, file, wrong: facts.is_none(), facts }
    }
}

/// Lists the songs that can be asked for by name, the user's own first.
pub(super) fn run(asked: &Songs) -> Result<ExitCode, Failure> {
    let own = OwnSongs::of_user();
    let mut rows: Vec<Row> = own
        .files()
        .into_iter()
        .map(|(name, path)| {
            let source = read(&path).ok();
            Row::new(name, Some(path), source.as_ref())
        })
        .collect();
    let shipped = Shipped::songs().into_iter().map(|name| {
        let source = Shipped::song(&name);
        Row::new(name, None, source.as_ref())
    });
    rows.extend(shipped);
    let out = if asked.json {
        serde_json::to_string_pretty(&rows).map_err(Failure::failed)? + "\n"
    } else {
        text(&rows, &own)
    };
    say_to_stdout(&out)?;
    Ok(ExitCode::SUCCESS)
}

fn text(rows: &[Row], own: &OwnSongs) -> String {
    let mut out = String::new();
    let (of_user, shipped): (Vec<&Row>, Vec<&Row>) =
        rows.iter().partition(|row| row.file.is_some());
    if let Some(folder) = own.folder() {
        let _ = writeln!(out, "Your own, in {}", folder.display());
        list(&mut out, &of_user);
        if of_user.is_empty() {
            let _ = writeln!(
                out,
                "  none yet: a song file that is put there can be asked for by its name"
            );
        }
        out.push('\n');
    }
    let _ = writeln!(out, "With openchair");
    list(&mut out, &shipped);
    let _ = writeln!(out, "\nopenchair play NAME plays one.");
    out
}

/// Two lines a song: what it is, and what it trains.
fn list(out: &mut String, rows: &[&Row]) {
    let longest = |of: fn(&SongFacts) -> &str| {
        rows.iter()
            .filter_map(|row| row.facts.as_ref())
            .map(|facts| of(facts).chars().count())
            .max()
    };
    let name = rows.iter().map(|row| row.name.chars().count()).max().unwrap_or(0);
    let key = longest(|facts| &facts.key).unwrap_or(0);
    for row in rows {
        match &row.facts {
            Some(facts) => {
                let SongFacts { key: in_key, meter, tempo, style, trains, .. } = facts;
                let _ = writeln!(
                    out,
                    "  {:name$}  {in_key:key$}  {meter}  {tempo:>3}  {style}",
                    row.name
                );
                if let Some(trains) = trains {
                    let _ = writeln!(out, "      {trains}");
                }
            }
            None => {
                let file = row.file.as_ref().map(|file| file.display().to_string());
                let file = file.unwrap_or_else(|| row.name.clone());
                let _ = writeln!(
                    out,
                    "  {:name$}  has mistakes; openchair check {file:?} shows them",
                    row.name
                );
            }
        }
    }
}
