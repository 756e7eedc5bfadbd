//! What is asked for: a song, the styles beside it, and wishes.

use std::collections::BTreeMap;
use std::num::NonZeroU32;

use openchair::backup::Level;
use openchair::chart::{Role, RoleSet};
use openchair::practice::{SitOutRule, Stretch};
use openchair::rehearsal::{NoRehearsal, NotRead, Rehearsal, StyleError, Wishes};
use openchair::sink::smf;
use openchair::text::{Source, report};
use openchair::theory::Key;
use serde::Deserialize;

use crate::shelf::Beside;

/// A song and what is wished for, as the page writes it.
#[derive(Deserialize)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
pub struct Asked {
    /// The name of the song's file.
    name: String,
    /// Its text.
    song: String,
    /// The styles that do not come with the program, by the names or paths that songs give them.
    #[serde(default)]
    styles: BTreeMap<String, String>,
    #[serde(default)]
    style: Option<String>,
    #[serde(default)]
    key: Option<String>,
    #[serde(default)]
    speed: Option<f64>,
    #[serde(default)]
    band: Vec<String>,
    #[serde(default)]
    sit_out: Vec<String>,
    #[serde(default)]
    level: Option<String>,
    #[serde(default)]
    times: Option<NonZeroU32>,
    #[serde(default)]
    bars: Option<String>,
    #[serde(default)]
    count_in: u32,
    /// In words: a number of JSON does not hold all of them.
    #[serde(default)]
    seed: Option<String>,
}

impl Asked {
    /// From JSON.
    pub fn read(text: &str) -> Result<Self, String> {
        serde_json::from_str(text).map_err(|why| why.to_string())
    }

    /// The rehearsal of it.
    pub fn rehearsal(&self) -> Result<Rehearsal, String> {
        let song =
            Source::new(self.name.clone(), self.song.clone()).map_err(|why| why.to_string())?;
        let wishes = self.wishes()?;
        let shelf = Beside { styles: &self.styles };
        Rehearsal::read(&song, &shelf, wishes).map_err(|why| match why {
            NoRehearsal::Read(NotRead::Song(problems)) => report(&song, &problems, false),
            NoRehearsal::Read(
                NotRead::Style(wrong) | NotRead::Wished(StyleError::Wrong(wrong)),
            ) => report(&wrong.source, &wrong.problems, false),
            NoRehearsal::Read(NotRead::Wished(StyleError::Unreadable(why))) => why,
            NoRehearsal::Read(NotRead::Wished(StyleError::No(why))) => why.to_string(),
            NoRehearsal::SitOut(why) => why.to_string(),
        })
    }

    fn wishes(&self) -> Result<Wishes, String> {
        let rules: Result<Vec<SitOutRule>, _> =
            self.sit_out.iter().map(|rule| SitOutRule::parse(rule)).collect();
        let band: Result<Vec<Role>, _> = self
            .band
            .iter()
            .map(|word| Role::parse(word).ok_or_else(|| format!("there is no role `{word}`")))
            .collect();
        let plain = Wishes::default();
        Ok(Wishes {
            style: self.style.clone(),
            key: self.key.as_deref().map(Key::parse).transpose().map_err(|why| why.to_string())?,
            speed: self.speed.filter(|speed| *speed > 0.0).unwrap_or(plain.speed),
            band: band?,
            sit_out: rules.map_err(|why| why.to_string())?,
            banjo: match self.level.as_deref() {
                None => None,
                Some(level) => Some(Level::parse(level).ok_or("no such level")?),
            },
            times: self.times.unwrap_or(plain.times),
            stretch: match self.bars.as_deref() {
                None => None,
                Some(bars) => Some(Stretch::parse(bars).map_err(|why| why.to_string())?),
            },
            count_in: self.count_in,
            seed: match self.seed.as_deref() {
                None => plain.seed,
                Some(seed) => seed.parse().map_err(|_| "a seed is a number".to_owned())?,
            },
            ..plain
        })
    }

    /// What `openchair export` writes of it.
    pub fn midi(&self) -> Result<Vec<u8>, String> {
        let rehearsal = self.rehearsal()?;
        let song = rehearsal.arrangement().map_err(|error| error.to_string())?;
        let mut played = rehearsal.perform(song).map_err(|error| error.to_string())?;
        rehearsal.fill_chair(&mut played, RoleSet::EMPTY).map_err(|error| error.to_string())?;
        smf::to_bytes(&played.performance).map_err(|error| error.to_string())
    }
}
