//! What is asked for: a song, the styles beside it, and wishes.

use std::collections::BTreeMap;
use std::io::Cursor;
use std::num::NonZeroU32;

use openchair::backup::Level;
use openchair::chart::{Role, RoleSet};
use openchair::live::Wish;
use openchair::practice::{
    Change, ChangeChoice, MOST_DRILL_BARS, SitOutRule, Stretch, changes, parse_ramp,
};
use openchair::rehearsal::{
    NoRehearsal, NotRead, Rehearsal, Rendition, StyleError, Voices, Wishes,
};
use openchair::sink::{smf, write_wav};
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
    /// A change of chords that is drilled in place of the song, as `openchair drill --change` has it.
    #[serde(default)]
    change: Option<String>,
    /// Bars of each chord of that; two where nothing is said.
    #[serde(default)]
    change_bars: Option<u32>,
    /// Speeds that climb from round to round, as `--ramp` has them.
    #[serde(default)]
    ramp: Option<String>,
}

/// Bars of each chord of a drill where nothing is said, as `openchair drill` has them.
const CHANGE_BARS: u32 = 2;

/// Frames a second of a sound file, as the program writes them.
const FILE_RATE: u32 = 48_000;

/// What is practised.
pub struct Practised {
    pub rehearsal: Rehearsal,
    pub wish: Wish,
    /// The changes that the song has.
    pub changes: Vec<Change>,
}

impl Asked {
    /// From JSON.
    pub fn read(text: &str) -> Result<Self, String> {
        serde_json::from_str(text).map_err(|why| why.to_string())
    }

    /// What the song's file is called, without its ending.
    pub fn file(&self) -> &str {
        self.name.strip_suffix(".toml").unwrap_or(&self.name)
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

    /// The rehearsal of what is practised: the song, or a change of it.
    pub fn practised(&self) -> Result<Practised, String> {
        let rehearsal = self.rehearsal()?;
        let played = rehearsal.whole().map_err(|why| why.to_string())?;
        let found = changes(&played);
        let ramp = self.ramp.as_deref().map(parse_ramp).transpose();
        let wish = Wish {
            ramp: ramp.map_err(|why| why.to_string())?,
            drills: self.change.is_some(),
            ..Wish::default()
        };
        let Some(change) = self.change.as_deref() else {
            return Ok(Practised { rehearsal, wish, changes: found });
        };
        let change = ChangeChoice::parse(change)
            .and_then(|choice| choice.find(&found, rehearsal.song().key, played.key))
            .map_err(|why| why.to_string())?;
        let bars = self.change_bars.unwrap_or(CHANGE_BARS).clamp(1, MOST_DRILL_BARS);
        Ok(Practised { rehearsal: rehearsal.drill(&played, &change, bars), wish, changes: found })
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

    /// What `openchair export` plays of it, and by which voices.
    fn exported(&self) -> Result<(Rendition, Voices), String> {
        let rehearsal = self.practised()?.rehearsal;
        let song = rehearsal.arrangement().map_err(|error| error.to_string())?;
        let mut played = rehearsal.perform(song).map_err(|error| error.to_string())?;
        rehearsal.fill_chair(&mut played, RoleSet::EMPTY).map_err(|error| error.to_string())?;
        Ok((played, rehearsal.voices()))
    }

    /// What it writes as a MIDI file.
    pub fn midi(&self) -> Result<Vec<u8>, String> {
        smf::to_bytes(&self.exported()?.0.performance).map_err(|error| error.to_string())
    }

    /// What it writes as a sound file.
    pub fn wav(&self) -> Result<Vec<u8>, String> {
        let (played, voices) = self.exported()?;
        let mut synth = voices.synth(&played.performance, FILE_RATE);
        let mut bytes = Cursor::new(Vec::new());
        write_wav(&mut synth, &mut bytes).map_err(|error| error.to_string())?;
        Ok(bytes.into_inner())
    }
}
