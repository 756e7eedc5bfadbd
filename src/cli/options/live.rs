use std::path::PathBuf;

use super::count_in::count_in;
use super::headings::{HANDS, PLACES, PRACTICE};
use super::room::InRoom;
use crate::cli::failure::Failure;
use crate::time::Nanos;

/// Where the band plays to, and what is shown and heard of it meanwhile.
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Live {
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
    #[command(flatten)]
    pub place: InRoom,
    /// Send MIDI clock, start, stop and song position to the port
    #[arg(long, help_heading = PLACES)]
    pub clock: bool,
    /// With --clock: leave a slow machine so many milliseconds between a stop, a song position and a continue
    #[arg(long, value_name = "MS", help_heading = PLACES, requires = "clock", value_parser = clap::value_parser!(u8).range(1..=MOST_GAP))]
    pub clock_gap: Option<u8>,
    /// Listen to the pedal at the MIDI input with this in its name; `openchair learn` teaches it
    #[arg(long, value_name = "NAME", help_heading = HANDS)]
    pub pedal: Option<String>,
    /// Print a line a bar instead of the screen: for logs, pipes and screen readers
    #[arg(long, help_heading = HANDS)]
    pub plain: bool,
}

/// Between two words a machine takes no longer than this, in milliseconds: three of them are less than the shortest bar.
const MOST_GAP: i64 = 100;

impl Live {
    /// What is to be sent of a MIDI clock: the time between two words, if any.
    pub(in crate::cli) fn clock_sent(&self) -> Option<Nanos> {
        let gap = i64::from(self.clock_gap.unwrap_or(0));
        self.clock.then_some(Nanos(gap * 1_000_000))
    }

    /// True if there is a MIDI port to play to.
    pub(in crate::cli) const fn has_port(&self) -> bool {
        self.port.is_some() || self.virtual_port
    }

    /// What the options ask for that cannot be, before anything sounds.
    pub(in crate::cli) fn check(&self) -> Result<(), Failure> {
        self.contradiction().map_or(Ok(()), |why| Err(Failure::usage(why)))
    }

    fn contradiction(&self) -> Option<&'static str> {
        let sounds = self.sound || !self.has_port();
        if !sounds && self.device.is_some() {
            Some("--device: a port makes no sound; add --sound for both, or leave one of them out")
        } else if !sounds && self.place.room.is_some() {
            Some("--room: a port makes no sound; add --sound for both, or leave one of them out")
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
