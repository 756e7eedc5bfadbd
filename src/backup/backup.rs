use super::bars::{bar_plans, seated};
use super::planner::{Planned, plan};
use super::stance::Stances;
use super::{CHAIR, Level};
use crate::arrange::Arrangement;
use crate::coverage::Coverage;
use crate::perform::{BanjoStep, Part, Pick, banjo_part, picks_of, with_what_comes};
use crate::style::{Slot, Style};
use crate::theory::fretboard::banjo::choose_banjo_capo;

/// A banjo part for the open chair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backup {
    /// The fret of the capo, 0 for none.
    pub capo: u8,
    /// What is picked, in the order of time.
    pub picks: Vec<Pick>,
    /// All that the hands do.
    steps: Vec<BanjoStep>,
}

/// What a banjo player at a level would play to the band as it stands, in every bar of the song, whoever rests
/// there. `open` is what the band covers of it; of the style it takes over whether banjos vamp in it. Where the last bar leads back to the first, one round.
///
/// Each level keeps the bars of the one before to the finger, but for those in which its own thing is played.
pub fn backup(
    song: &Arrangement,
    style: &Style,
    open: &Coverage,
    level: Level,
    seed: u64,
) -> Backup {
    let vamps = knows_vamps(style);
    let song = seated(&with_what_comes(song));
    let capo = choose_banjo_capo(song.key);
    let mut planned: Option<Planned> = None;
    for level in Level::ALL.into_iter().filter(|one| *one <= level) {
        let bars = bar_plans(&song, open, level, vamps, seed);
        let stances = Stances::new(&song, &bars, level == Level::Full, capo);
        planned = Some(plan(&song, bars, stances, capo, seed, planned.as_ref()));
    }
    let steps = planned.map_or_else(Vec::new, |planned| planned.steps);
    Backup { capo, picks: picks_of(&steps), steps }
}

/// True if the style's own banjo vamps anywhere, or it has none. Old-time and slow ones stay low on the neck: there
/// a vamp is a short chord in the low shape.
fn knows_vamps(style: &Style) -> bool {
    let vamps = |slot: &Slot| matches!(slot, Slot::Strike(strike) if strike.stroke.is_some());
    let part = style.part(CHAIR);
    part.is_none_or(|part| part.bars.iter().any(|bar| bar.slots.iter().any(vamps)))
}

/// What a backup part sounds like: as the style has its banjo sound, swing and grow louder and softer. `None` if
/// it has no note.
pub fn part(song: &Arrangement, style: &Style, backup: &Backup, seed: u64) -> Option<Part> {
    banjo_part(song, style, &backup.steps, seed)
}
