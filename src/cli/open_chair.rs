//! The open chair filled: a banjo that plays what a player would.

use clap::ValueEnum;

use super::args::SONG;
use super::failure::Failure;
use crate::arrange::Arrangement;
use crate::backup::{CHAIR, Level, backup, part};
use crate::chart::RoleSet;
use crate::coverage::coverage;
use crate::perform::Performance;
use crate::style::Style;
use crate::text::{list, nearest};

/// Who plays along in the open chair, and how much.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(super) struct OpenChair {
    /// Add a banjo that plays what the band leaves open
    #[arg(long, value_name = "ROLE", value_enum, help_heading = SONG)]
    pub with: Option<With>,
    /// How much the banjo plays: plain rolls, then sixths, then lead-ins, or full
    #[arg(long, value_name = "LEVEL", help_heading = SONG, requires = "with", value_parser = level)]
    pub level: Option<Level>,
}

/// Who can fill the open chair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum With {
    /// The banjo
    Banjo,
}

impl OpenChair {
    /// Adds the part of whoever fills the open chair to what the band plays.
    pub(super) fn fill(
        self,
        song: &Arrangement,
        style: &Style,
        band: &mut Performance,
        seed: u64,
    ) -> Result<(), Failure> {
        let Some(With::Banjo) = self.with else { return Ok(()) };
        if song.playing().contains(CHAIR) {
            return Err(Failure::Usage(
                "--with banjo: the band has a banjo already; add --sit-out banjo, so that its chair is open"
                    .into(),
            ));
        }
        let open = coverage(song, band, RoleSet::EMPTY);
        let level = self.level.unwrap_or(Level::Full);
        let played = backup(song, style, &open, level, seed);
        if let Some(part) = part(song, style, &played, seed) {
            let after = |other: &crate::perform::Part| other.role as u8 > part.role as u8;
            let place = band.parts.iter().position(after).unwrap_or(band.parts.len());
            band.parts.insert(place, part);
        }
        Ok(())
    }
}

/// A level by its word, or what to write instead.
pub(super) fn level(text: &str) -> Result<Level, String> {
    let word = text.trim();
    Level::parse(word).ok_or_else(|| {
        let words = Level::ALL.map(Level::as_str);
        match nearest(word, words) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the levels are {}", list(&words, "and")),
        }
    })
}
