use super::Level;
use crate::arrange::Arrangement;
use crate::chart::Role;
use crate::coverage::Coverage;
use crate::perform::{Pick, banjo_picks};
use crate::style::Style;
use crate::theory::fretboard::banjo::choose_banjo_capo;

/// A banjo part for the open chair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backup {
    /// The fret of the capo, 0 for none.
    pub capo: u8,
    /// What is picked, in the order of time.
    pub picks: Vec<Pick>,
}

/// What a banjo player at a level would play to the band as it stands.
pub fn backup(
    song: &Arrangement,
    style: &Style,
    _open: &Coverage,
    _level: Level,
    seed: u64,
) -> Backup {
    let picks = style.part(Role::Banjo).map(|part| banjo_picks(song, part, seed));
    Backup { capo: choose_banjo_capo(song.key), picks: picks.unwrap_or_default() }
}
