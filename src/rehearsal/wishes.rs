use std::num::NonZeroU32;

use crate::arrange::Looseness;
use crate::backup::{Level, Lick};
use crate::chart::Role;
use crate::practice::{SitOutRule, Stretch};
use crate::theory::Key;
use crate::theory::fretboard::banjo::Drone;

/// What a player asks for over and above the song.
#[derive(Clone, Debug, PartialEq)]
pub struct Wishes {
    /// Another backing style than the song's own: a name or a path.
    pub style: Option<String>,
    /// The key; the song's own if `None`.
    pub key: Option<Key>,
    /// Beats a minute, of the meter's own beat; the song's own if `None`.
    pub tempo: Option<f64>,
    /// Practice speed in percent of the tempo, above 0: 100 is as written.
    pub speed: f64,
    /// The line-up, in the order in which it was asked for; the song's own if empty.
    pub band: Vec<Role>,
    /// Who leaves a chair open, and where or when.
    pub sit_out: Vec<SitOutRule>,
    /// How often the form is played before the ending.
    pub times: NonZeroU32,
    /// What is played round and round in place of the whole song.
    pub stretch: Option<Stretch>,
    /// How often that goes round; without end if `None`, which what is written down takes for once.
    pub rounds: Option<NonZeroU32>,
    /// How much the banjo plays that fills the open chair; none does if `None`.
    pub banjo: Option<Level>,
    /// What a banjo does with its short string where that is no part of the chord; as the song has it if `None`.
    pub drone: Option<Drone>,
    /// How closely the players keep together.
    pub looseness: Looseness,
    /// Licks that the player knows beside those that come with the program.
    pub licks: Vec<Lick>,
    /// Bars of clicks before the first bar.
    pub count_in: u32,
    /// Which of the band's endless performances: the same number, the same notes.
    pub seed: u64,
}

impl Default for Wishes {
    fn default() -> Self {
        Self {
            style: None,
            key: None,
            tempo: None,
            speed: 100.0,
            band: Vec::new(),
            sit_out: Vec::new(),
            times: NonZeroU32::MIN,
            stretch: None,
            rounds: None,
            banjo: None,
            drone: None,
            looseness: Looseness::default(),
            licks: Vec::new(),
            count_in: 0,
            seed: 1,
        }
    }
}
