use std::num::NonZeroU32;
use std::ops::RangeInclusive;
use std::path::PathBuf;

use clap::{Parser, Subcommand, ValueEnum};

use super::coverage::Coverage;
use super::drill::Drill;
use super::hear::Hear;
use super::lesson::Lesson;
use super::listen::Listen;
use super::open_chair::OpenChair;
use super::review::Review;
use super::tab::Tab;
use crate::arrange::Plan;
use crate::chart::{Role, RoleSet};
use crate::practice::{Chairs, Ramp, SitOutError, SitOutRule, Stretch, parse_ramp, parse_times};
use crate::text::{list, meant};
use crate::theory::Key;
use crate::time::Tempo;

/// A string band that plays your chart and leaves a chair open for you.
#[derive(Debug, Parser)]
#[command(version, max_term_width = 100)]
pub(super) struct Args {
    #[command(subcommand)]
    pub command: Command,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Play a song, through the built-in sound or a MIDI port
    Play(Play),
    /// Practise a song's chord changes one by one
    Drill(Drill),
    /// Hear what a player recorded, and say what to work on next
    Review(Review),
    /// List the strokes that are heard in a recording of the player alone
    Hear(Hear),
    /// Write a song as a MIDI file or as sound
    Export(Export),
    /// Say what the band leaves open, pass by pass, and what to play there
    Coverage(Coverage),
    /// Write out a banjo's backup for the open chair: tablature, and chords up the neck
    Tab(Tab),
    /// Look through songs, backing styles and lessons for mistakes
    Check(Check),
    /// Write a lesson as a folder of files to play to, with a page
    Lesson(Lesson),
    /// Teach a pedal what to do, or show what pedals are taught
    Learn(Learn),
    /// List MIDI outputs and inputs, and sound devices
    Ports(Ports),
    /// Write this program's manual page to standard output
    Manual,
}

/// Under which the help has its options, in the order in which a player needs them.
pub(super) const SONG: &str = "The song and the band";
pub(super) const PRACTICE: &str = "Practising";
const PLACES: &str = "Where it is heard";
pub(super) const HANDS: &str = "Hands and eyes";

#[derive(Debug, clap::Args)]
pub(super) struct Play {
    /// The song file
    pub song: PathBuf,
    #[command(flatten)]
    pub options: Options,
    /// Go round and round: a section (verse, verse:2, verse:guitar), or bars by the numbers on the
    /// screen (5-8, 5)
    #[arg(long = "loop", value_name = "SECTION|BARS", help_heading = PRACTICE, value_parser = Stretch::parse)]
    pub stretch: Option<Stretch>,
    /// Stop after so many rounds; without --loop, play the form so often before the ending
    #[arg(long, value_name = "N", help_heading = PRACTICE, allow_negative_numbers = true, value_parser = parse_times)]
    pub times: Option<NonZeroU32>,
    /// Begin at one speed and climb to another by a step each round, in percent: 60:100:4
    #[arg(long, value_name = "FROM:TO:STEP", help_heading = PRACTICE, conflicts_with = "speed", value_parser = parse_ramp)]
    pub ramp: Option<Ramp>,
    #[command(flatten)]
    pub live: Live,
    /// Go with the MIDI clock that comes in at the input with this in its name
    #[arg(long, value_name = "NAME", help_heading = HANDS, conflicts_with_all = ["ramp", "speed", "tempo"])]
    pub follow: Option<String>,
    #[command(flatten)]
    pub listening: Listen,
}

/// Where the band plays to, and what is shown and heard of it meanwhile.
#[derive(Debug, clap::Args)]
pub(super) struct Live {
    /// Bars of clicks before the song
    #[arg(long, value_name = "BARS", help_heading = PRACTICE, default_value_t = 1, allow_negative_numbers = true, value_parser = count_in)]
    pub count_in: u32,
    /// Click twice before each chord change
    #[arg(long, help_heading = PRACTICE)]
    pub cues: bool,
    /// Play through the sound device with this in its name instead of the default one
    #[arg(long, value_name = "NAME", help_heading = PLACES)]
    pub device: Option<String>,
    /// Play with the sounds of a soundfont instead of the built-in ones
    #[arg(long, value_name = "FILE.sf2", help_heading = PLACES)]
    pub soundfont: Option<PathBuf>,
    /// Play to the MIDI output with this in its name; `openchair ports` lists them
    #[arg(long, value_name = "NAME", help_heading = PLACES, conflicts_with = "virtual_port")]
    pub port: Option<String>,
    /// Play to a MIDI port of openchair's own, for a synth or a DAW to connect to
    #[arg(long = "virtual", help_heading = PLACES)]
    pub virtual_port: bool,
    /// Play through the built-in sound as well as the port
    #[arg(long, help_heading = PLACES)]
    pub sound: bool,
    /// Send MIDI clock, start, stop and song position to the port
    #[arg(long, help_heading = PLACES)]
    pub clock: bool,
    /// Listen to the pedal at the MIDI input with this in its name; `openchair learn` teaches it
    #[arg(long, value_name = "NAME", help_heading = HANDS)]
    pub pedal: Option<String>,
    /// Print a line a bar instead of the screen: for logs, pipes and screen readers
    #[arg(long, help_heading = HANDS)]
    pub plain: bool,
}

impl Live {
    /// True if there is a MIDI port to play to.
    pub(super) const fn has_port(&self) -> bool {
        self.port.is_some() || self.virtual_port
    }

    /// What the options contradict each other in.
    pub(super) fn contradiction(&self) -> Option<&'static str> {
        let sounds = self.sound || !self.has_port();
        if !sounds && self.device.is_some() {
            Some("--device: a port makes no sound; add --sound for both, or leave one of them out")
        } else if !sounds && self.soundfont.is_some() {
            Some(
                "--soundfont: a port makes no sound; add --sound for both, or leave one of them out",
            )
        } else if self.clock && !self.has_port() {
            Some("--clock is sent to a port; add --port NAME or --virtual")
        } else {
            None
        }
    }
}

#[derive(Debug, clap::Args)]
pub(super) struct Learn {
    /// What the pedal is to do: pause, count-in, section-back …; without it, all of them are listed
    pub action: Option<String>,
    /// Listen only to the MIDI input with this in its name
    #[arg(long, value_name = "NAME", requires = "action")]
    pub pedal: Option<String>,
    /// Forget which pedal does this
    #[arg(long, value_name = "ACTION", conflicts_with_all = ["action", "pedal"])]
    pub forget: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(super) struct Ports {
    /// Give the lists as JSON
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
pub(super) struct Export {
    /// The song file
    pub song: PathBuf,
    /// Where to write: FILE.mid or FILE.wav, or - for standard output
    #[arg(short, long, value_name = "FILE")]
    pub output: PathBuf,
    /// The kind of file, where its name does not say
    #[arg(long, value_enum)]
    pub format: Option<Format>,
    /// Render .wav with the sounds of a soundfont in place of the built-in ones
    #[arg(long, value_name = "FILE.sf2")]
    pub soundfont: Option<PathBuf>,
    #[command(flatten)]
    pub options: Options,
    #[command(flatten)]
    pub chair: OpenChair,
    /// Bars of clicks before the song
    #[arg(long, value_name = "BARS", default_value_t = 0, allow_negative_numbers = true, value_parser = count_in)]
    pub count_in: u32,
}

/// More bars of clicks than anyone waits for.
const MOST_COUNT_IN: u32 = 16;

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// A Standard MIDI File
    Mid,
    /// Sound, 48 kHz stereo
    Wav,
}

#[derive(Debug, clap::Args)]
pub(super) struct Check {
    /// Songs, styles, lessons, or folders of them
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,
    /// Give the problems as JSON
    #[arg(long)]
    pub json: bool,
}

/// What to play and who plays it.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct Options {
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
    /// Another performance under another number, and always the same under one
    #[arg(long, value_name = "N", help_heading = SONG, default_value_t = 1, allow_negative_numbers = true, value_parser = seed)]
    pub seed: u64,
}

impl Options {
    /// As the arranger takes it, and whose chair is open by turns or by surprise.
    pub(super) fn plan(&self, count_in: u32) -> Result<(Plan, Chairs), SitOutError> {
        let band = (!self.band.is_empty()).then(|| self.band.iter().copied().collect::<RoleSet>());
        let (sit_out, chairs) = SitOutRule::split(&self.sit_out, self.seed)?;
        let plan = Plan {
            key: self.key,
            tempo: self.tempo,
            speed: self.speed,
            band,
            sit_out,
            count_in,
            ..Plan::default()
        };
        Ok((plan, chairs))
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

fn key(text: &str) -> Result<Key, String> {
    Key::parse(text.trim()).map_err(|error| format!("{error}; {}", error.help()))
}

fn seed(text: &str) -> Result<u64, String> {
    text.trim().parse().map_err(|_| {
        format!("a seed is any whole number from 0 to {}: the same one, the same notes", u64::MAX)
    })
}

pub(super) fn count_in(text: &str) -> Result<u32, String> {
    let bars = text.trim().parse().ok().filter(|bars| *bars <= MOST_COUNT_IN);
    bars.ok_or_else(|| format!("write a number of bars from 0 to {MOST_COUNT_IN}"))
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

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_command_line_is_sound() {
        Args::command().debug_assert();
    }
}
