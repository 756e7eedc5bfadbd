use std::ops::RangeInclusive;
use std::path::PathBuf;

use super::headings::SONG;
use crate::arrange::Looseness;
use crate::backup::read_licks;
use crate::chart::Role;
use crate::cli::failure::Failure;
use crate::cli::files::read;
use crate::practice::SitOutRule;
use crate::rehearsal::Wishes;
use crate::text::{Problems, list, meant};
use crate::theory::Key;
use crate::theory::fretboard::banjo::Drone;
use crate::time::Tempo;

/// What is to be played of a song, as far as a chart shows it.
#[derive(Clone, Debug, clap::Args)]
pub(in crate::cli) struct SongOptions {
    #[arg(long, help = sit_out_help(), value_name = "ROLE[@SECTION]", help_heading = SONG, value_delimiter = ',', value_parser = SitOutRule::parse)]
    pub sit_out: Vec<SitOutRule>,
    /// Practice speed, in percent of the tempo
    #[arg(long, value_name = "PERCENT", help_heading = SONG, default_value = "100", allow_negative_numbers = true, value_parser = speed)]
    pub speed: f64,
    /// Beats a minute instead of the song's own
    #[arg(long, value_name = "BPM", help_heading = SONG, allow_negative_numbers = true, value_parser = tempo)]
    pub tempo: Option<f64>,
    /// Transpose to this key: G, Bb, F#m
    #[arg(long, help_heading = SONG, value_parser = key)]
    pub key: Option<Key>,
    /// Another backing style than the song's own: a name, or a path
    #[arg(long, help_heading = SONG)]
    pub style: Option<String>,
    #[arg(long, help = band_help(), value_name = "ROLE,ROLE", help_heading = SONG, value_delimiter = ',', value_parser = role)]
    pub band: Vec<Role>,
}

/// What to play and who plays it.
#[derive(Clone, Debug, clap::Args)]
pub(in crate::cli) struct Options {
    #[command(flatten)]
    pub song: SongOptions,
    /// What a banjo does with its short string over a chord that it is no part of: rings on as a drone, or is left
    /// out where it does not fit; the song's own otherwise, or rings
    #[arg(long, value_name = "rings|fits", help_heading = SONG, value_parser = drone)]
    pub drone: Option<Drone>,
    /// How closely the band keeps together: as a band that plays to a click, closer, or looser and drifting together;
    /// grid is on the beat to the tick and as hard each time, for a sequencer that brings its own
    #[arg(long, value_name = "grid|tight|band|loose", help_heading = SONG, default_value = "band", hide_default_value = false, value_parser = looseness)]
    pub feel: Looseness,
    /// A file of licks for the banjo that fills the open chair, beside those that come with the program; again for
    /// more
    #[arg(long, value_name = "FILE", help_heading = SONG)]
    pub licks: Vec<PathBuf>,
    /// Another performance under another number, and always the same under one
    #[arg(long, value_name = "N", help_heading = SONG, default_value_t = 1, allow_negative_numbers = true, value_parser = seed)]
    pub seed: u64,
}

impl Options {
    /// As a rehearsal takes it.
    ///
    /// # Errors
    /// A file of licks can't be read, or has mistakes.
    pub(in crate::cli) fn wishes(&self) -> Result<Wishes, Failure> {
        let mut licks = Vec::new();
        for path in &self.licks {
            let source = read(path)?;
            let mut problems = Problems::new();
            match read_licks(&source, &mut problems) {
                Some(read) => licks.extend(read),
                None => return Err(Failure::Wrong(Box::new(source), problems)),
            }
        }
        Ok(Wishes {
            drone: self.drone,
            looseness: self.feel,
            licks,
            seed: self.seed,
            ..self.song.wishes()
        })
    }
}

impl SongOptions {
    /// As a rehearsal takes it.
    pub(in crate::cli) fn wishes(&self) -> Wishes {
        Wishes {
            style: self.style.clone(),
            key: self.key,
            tempo: self.tempo,
            speed: self.speed,
            band: self.band.clone(),
            sit_out: self.sit_out.clone(),
            ..Wishes::default()
        }
    }
}

/// What `--sit-out` does.
fn sit_out_help() -> String {
    format!(
        "Leave a chair open: {}, or guitar@chorus for one section; again for more. Or another in each pass: \
         turns, surprise, or surprise-called to be told beforehand",
        list(&Role::words(), "or")
    )
}

/// What `--band` does.
fn band_help() -> String {
    format!("The line-up, of {}: bass,guitar,banjo", list(&Role::words(), "and"))
}

fn drone(text: &str) -> Result<Drone, String> {
    let word = text.trim();
    Drone::parse(word).ok_or_else(|| {
        let words = Drone::ALL.map(Drone::as_str);
        meant(word, words).unwrap_or_else(|| format!("write {}", list(&words, "or")))
    })
}

fn looseness(text: &str) -> Result<Looseness, String> {
    let word = text.trim();
    Looseness::parse(word).ok_or_else(|| {
        let words = Looseness::ALL.map(Looseness::as_str);
        meant(word, words).unwrap_or_else(|| format!("write {}", list(&words, "or")))
    })
}

fn key(text: &str) -> Result<Key, String> {
    Key::parse(text.trim()).map_err(|error| format!("{error}; {}", error.help()))
}

fn seed(text: &str) -> Result<u64, String> {
    text.trim().parse().map_err(|_| {
        format!("a seed is any whole number from 0 to {}: the same one, the same notes", u64::MAX)
    })
}

fn tempo(text: &str) -> Result<f64, String> {
    number(text, Tempo::SLOWEST..=Tempo::FASTEST, "beats a minute")
}

fn speed(text: &str) -> Result<f64, String> {
    number(text.strip_suffix('%').unwrap_or(text), 10.0..=400.0, "percent")
}

fn number(text: &str, range: RangeInclusive<f64>, unit: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if range.contains(&value) => Ok(value),
        _ => Err(format!("write a number from {} to {} ({unit})", range.start(), range.end())),
    }
}

fn role(text: &str) -> Result<Role, String> {
    let word = text.trim();
    Role::parse(word).ok_or_else(|| {
        let words = Role::words();
        meant(word, words.iter().copied())
            .unwrap_or_else(|| format!("the band has {}", list(&words, "and")))
    })
}
