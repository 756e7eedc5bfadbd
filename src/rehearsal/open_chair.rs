//! The open chair filled: a banjo that plays what a player would.

use std::ops::RangeInclusive;
use std::sync::Arc;

use thiserror::Error;

use super::{Rehearsal, Rendition, Wishes};
use crate::arrange::Arrangement;
use crate::backup::{Backup, CHAIR, Level, LickBook, Player, backup, part};
use crate::chart::RoleSet;
use crate::coverage::Coverage;
use crate::perform::{Instrument, Part, Performance};
use crate::tablature::{Tablature, tablature};

/// General MIDI's banjo (program 106, counted from 1), where the style says nothing of one.
const BANJO: Instrument = Instrument { program: 105, volume: 80, pan: 64 };

/// The band's own banjo sits in the chair that another is to fill.
#[derive(Clone, Copy, Debug, Error, PartialEq, Eq)]
#[error("the band has a banjo already")]
pub struct HasBanjo;

/// The banjo's part for the open chair in all that it is written as.
#[derive(Clone, Debug)]
pub struct BackupPart {
    /// Written out.
    pub tab: Tablature,
    /// What is heard of it: the banjo, and nobody else.
    pub alone: Performance,
    /// What it is played on.
    pub instrument: Instrument,
}

impl Rehearsal {
    /// Sees that the chair is open, if a banjo that fills it is wished for.
    ///
    /// # Errors
    /// [`HasBanjo`]: it is not.
    pub fn chair_is_open(&self, song: &Arrangement) -> Result<(), HasBanjo> {
        let taken = self.wishes().banjo.is_some() && song.playing().contains(CHAIR);
        if taken { Err(HasBanjo) } else { Ok(()) }
    }

    /// Adds the part of the banjo that fills the open chair to what the band plays, if one is wished for. It covers
    /// for those who are `silent` beside those who rest.
    ///
    /// # Errors
    /// [`HasBanjo`]: the chair is not open.
    pub fn fill_chair(&self, band: &mut Rendition, silent: RoleSet) -> Result<(), HasBanjo> {
        let Some(level) = self.wishes().banjo else { return Ok(()) };
        self.chair_is_open(&band.arrangement)?;
        let (_, part) = self.backup(band, &band.coverage(silent), level);
        if let Some(part) = part {
            let parts = &mut Arc::make_mut(&mut band.performance).parts;
            let after = |other: &Part| other.role > part.role;
            let place = parts.iter().position(after).unwrap_or(parts.len());
            parts.insert(place, part);
        }
        Ok(())
    }

    /// The banjo's part to what the band plays. The chair is the player's, whether the band has a banjo or not.
    pub fn backup_part(&self, band: &Rendition, level: Level) -> BackupPart {
        let open = band.coverage(RoleSet::EMPTY.with(CHAIR));
        let (played, part) = self.backup(band, &open, level);
        let instrument = part.as_ref().map_or(BANJO, |part| part.instrument);
        let tab = tablature(&band.arrangement, band.performance.swing, &open, &played, level);
        let parts = part.into_iter().collect();
        let alone = Performance { parts, ..Performance::clone(&band.performance) };
        BackupPart { tab, alone, instrument }
    }

    /// The banjo's part to what the band plays, written out, while these roles are silent beside those who rest.
    pub fn tab_while(&self, band: &Rendition, silent: RoleSet, level: Level) -> Tablature {
        let open = band.coverage(silent.with(CHAIR));
        let (played, _) = self.backup(band, &open, level);
        tablature(&band.arrangement, band.performance.swing, &open, &played, level)
    }

    fn backup(&self, band: &Rendition, open: &Coverage, level: Level) -> (Backup, Option<Part>) {
        let Wishes { licks, seed, .. } = self.wishes();
        let style = self.style();
        let licks = LickBook::shipped().with(licks.iter().cloned());
        let player = Player { level, licks: &licks, seed: *seed };
        let played = backup(&band.arrangement, style, open, player);
        let part = part(&band.arrangement, style, &played, *seed);
        (played, part)
    }
}

impl BackupPart {
    /// The bars with these numbers alone; `None` if the form has none. `band` is what it was made for.
    pub fn only(&self, band: &Rendition, numbers: RangeInclusive<usize>) -> Option<Self> {
        let tab = self.tab.only(numbers)?;
        let alone = match (tab.bars.first(), tab.bars.last()) {
            (Some(first), Some(last)) => {
                let end = last.start + last.meter.bar();
                self.alone.between(&band.arrangement, first.start, end)
            }
            _ => self.alone.clone(),
        };
        Some(Self { tab, alone, instrument: self.instrument })
    }
}
