use clap::{Parser, Subcommand};

use super::band_page::BandPage;
use super::chart::Chart;
use super::check::Check;
use super::coverage::Coverage;
use super::doctor::{BUILT, Doctor};
use super::drill::Drill;
use super::export::Export;
use super::hear::Hear;
use super::import::Import;
use super::latency::Latency;
use super::learn::Learn;
use super::lesson::Lesson;
use super::play::Play;
use super::ports::Ports;
use super::progress::Progress;
use super::review::Review;
use super::serve::Serve;
use super::songs::Songs;
use super::tab::Tab;

/// A string band that plays your chart and leaves a chair open for you.
#[derive(Debug, Parser)]
#[command(version, long_version = BUILT, max_term_width = 100)]
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
    /// Show the takes that were reviewed, day by day
    Progress(Progress),
    /// List the strokes that are heard in a recording of the player alone
    Hear(Hear),
    /// Write a song as a MIDI file or as sound
    Export(Export),
    /// Say what the band leaves open, pass by pass, and what to play there
    Coverage(Coverage),
    /// Write out a banjo's backup for the open chair: tablature, and chords up the neck
    Tab(Tab),
    /// Write a chart to print: for a browser, as a drawing, or as PDF
    Chart(Chart),
    /// Serve the band, charts or a lesson's page to the browsers in the room
    Serve(Serve),
    /// List the songs at hand, which can be asked for by name
    Songs(Songs),
    /// Read tunes from other formats, and write them as song files
    Import(Import),
    /// Look through songs, backing styles and lessons for mistakes
    Check(Check),
    /// Write a lesson as a folder of files to play to, with a page
    Lesson(Lesson),
    /// Write the band as one page for any browser: it plays there live, with nothing to install
    Page(BandPage),
    /// Measure how late a microphone hears, for `play --listen-mic`
    Latency(Latency),
    /// Teach a pedal what to do, or show what pedals are taught
    Learn(Learn),
    /// List MIDI outputs and inputs, sound devices and microphones
    Ports(Ports),
    /// Say what is there to play with, what is missing, and what to do
    Doctor(Doctor),
    /// Write what a shell needs to complete this program's command line
    Completions {
        /// The shell that is to offer them
        #[arg(value_parser = ["bash", "elvish", "fish", "powershell", "zsh"])]
        shell: String,
    },
    /// Write this program's manual page, or that of one of its commands, to standard output
    Manual {
        /// A command, for a page of its own; without one, the page that holds them all
        command: Option<String>,
    },
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;
    use crate::rehearsal::{Wishes, command_again};
    use crate::review::{Advice, Part};

    #[test]
    fn the_command_line_is_sound() {
        Args::command().debug_assert();
    }

    #[test]
    fn what_a_review_advises_can_be_asked_for() {
        let asked = "--sit-out chop,guitar@chorus,surprise --key A --tempo 92.5 --seed 7 --band chop,bass \
                     --style fast-grass --drone fits";
        let asked =
            ["openchair", "review", "song.toml", "take.mid"].into_iter().chain(asked.split(' '));
        let Command::Review(review) = Args::parse_from(asked).command else { panic!("no review") };
        let wishes = review.options.wishes().unwrap();
        let (about, bars) = (Part::Late, Some((3, 8)));
        let advice =
            Advice { about, words: String::new(), bars, speed: 90.0, command: String::new() };
        let told = command_again("song.toml", &wishes, &advice);
        let Command::Play(play) = Args::parse_from(told.split(' ')).command else {
            panic!("{told}")
        };
        assert_eq!(play.options.wishes().unwrap(), Wishes { speed: 90.0, ..wishes });
        assert_eq!(play.stretch.map(|stretch| stretch.to_string()).as_deref(), Some("3-8"));
    }
}
