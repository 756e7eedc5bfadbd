use std::num::NonZeroU32;

use thiserror::Error;

use super::Looseness;
use crate::chart::{MOST_BARS, Role, RoleSet, Song};
use crate::style::Tag;
use crate::text::{list, nearest};
use crate::theory::fretboard::banjo::Drone;
use crate::theory::{Key, Mode, PitchName};

/// What the player asks for over and above the song.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The key to play in; the song's own if `None`.
    pub key: Option<Key>,
    /// Beats a minute, of the meter's own beat; the song's own if `None`.
    pub tempo: Option<f64>,
    /// Practice speed in percent of the tempo, above 0: 100 is as written.
    pub speed: f64,
    /// The line-up; the song's own if `None`.
    pub band: Option<RoleSet>,
    /// Who leaves a chair open, and where.
    pub sit_out: Vec<SitOut>,
    /// Bars of clicks before the song, in the meter of its first bar.
    pub count_in: u32,
    /// How often the form is played before the ending.
    pub times: NonZeroU32,
    /// How a tag is played: as the style has it.
    pub tag: Tag,
    /// What a banjo does with its short string; the song's own if `None`.
    pub drone: Option<Drone>,
    /// How closely the players keep together.
    pub looseness: Looseness,
}

impl Default for Plan {
    fn default() -> Self {
        Self {
            key: None,
            tempo: None,
            speed: 100.0,
            band: None,
            sit_out: Vec::new(),
            count_in: 0,
            times: NonZeroU32::MIN,
            tag: Tag::default(),
            drone: None,
            looseness: Looseness::default(),
        }
    }
}

/// A role that leaves its chair open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SitOut {
    /// The role.
    pub role: Role,
    /// The section in which it sits out, by its name; the whole song with its ending if `None`.
    pub section: Option<String>,
}

/// A plan that does not go with the song.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum PlanError {
    /// `ROLE@SECTION` names a section that the song does not have.
    #[error("{role} can't sit out in `{section}`: the song has no such section; {help}")]
    NoSection {
        /// The role.
        role: Role,
        /// The section that was asked for.
        section: String,
        /// What to write instead.
        help: String,
    },
    /// The key to transpose to is of another mode.
    #[error(
        "{song} can't be transposed to {wanted}: the mode stays, only the home note moves; write `{instead}`"
    )]
    OtherMode {
        /// The song's key.
        song: Key,
        /// The key that was asked for.
        wanted: Key,
        /// The key with the song's mode.
        instead: Key,
    },
    /// The form is to be played more often than there is room for.
    #[error(
        "the song can't be played {times} times: {most} times make days of music; play it that often at most"
    )]
    TooOften {
        /// How often was asked for.
        times: NonZeroU32,
        /// The most.
        most: usize,
    },
}

impl Plan {
    /// The home note to play in.
    pub(super) fn tonic(&self, song: &Song) -> Result<PitchName, PlanError> {
        match self.key {
            None => Ok(song.key.tonic),
            // A bare letter names a home note, whatever the mode of the song.
            Some(key) if key.mode == song.key.mode || key.mode == Mode::Major => Ok(key.tonic),
            Some(wanted) => Err(PlanError::OtherMode {
                song: song.key,
                wanted,
                instead: Key { tonic: wanted.tonic, mode: song.key.mode },
            }),
        }
    }

    /// Checks that the form as often as it is played has at most [`MOST_BARS`] bars.
    pub(super) fn fits(&self, song: &Song) -> Result<(), PlanError> {
        let length = |section: usize| song.sections.get(section).map_or(0, |s| s.bars.len());
        let once: usize = song.form.iter().map(|pass| length(pass.section)).sum();
        let most = MOST_BARS / once.max(1);
        let times = usize::try_from(self.times.get()).unwrap_or(usize::MAX);
        // The reader of songs has seen to a single time.
        if times > most.max(1) {
            return Err(PlanError::TooOften { times: self.times, most: most.max(1) });
        }
        Ok(())
    }

    /// For each section of the song, the roles that sit out in it.
    pub(super) fn resting(&self, song: &Song) -> Result<Vec<RoleSet>, PlanError> {
        let mut resting = vec![RoleSet::EMPTY; song.sections.len()];
        for SitOut { role, section } in &self.sit_out {
            let mut found = false;
            for (set, of_song) in resting.iter_mut().zip(&song.sections) {
                if section.as_ref().is_none_or(|name| *name == of_song.name) {
                    *set = set.with(*role);
                    found = true;
                }
            }
            if let (Some(section), false) = (section, found) {
                let names: Vec<&str> = song.sections.iter().map(|s| s.name.as_str()).collect();
                let help = match nearest(section, names.iter().copied()) {
                    Some(near) => format!("did you mean `{role}@{near}`?"),
                    None => format!("it has {}", list(&names, "and")),
                };
                return Err(PlanError::NoSection { role: *role, section: section.clone(), help });
            }
        }
        Ok(resting)
    }

    /// The roles that sit out the whole song, its ending too.
    pub(super) fn resting_throughout(&self) -> RoleSet {
        self.sit_out.iter().filter(|out| out.section.is_none()).map(|out| out.role).collect()
    }
}
