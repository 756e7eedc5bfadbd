use std::sync::Arc;

use super::bars::{bar_plans, seated};
use super::break_figures::break_figures;
use super::figures::figures;
use super::planner::{Planned, plan};
use super::stance::Stances;
use super::steps::steps;
use super::{CHAIR, Level, Player};
use crate::arrange::{Arrangement, BarKind};
use crate::coverage::Coverage;
use crate::perform::{BanjoStep, Part, Pick, banjo_part, picks_of, with_what_comes};
use crate::style::{Slot, Style};
use crate::theory::fretboard::banjo::choose_banjo_capo;
use crate::time::Ticks;

/// A banjo part for the open chair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backup {
    /// The fret of the capo, 0 for none.
    pub capo: u8,
    /// What is picked, in the order of time.
    pub picks: Vec<Pick>,
    /// The licks in it, and the vamps and the like by their names, in the order of time.
    pub licks: Vec<PlayedLick>,
    /// All that the hands do.
    steps: Vec<BanjoStep>,
}

/// A lick at its place in a part, or a pattern that has a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlayedLick {
    /// What it is called.
    pub name: Arc<str>,
    /// Where it begins.
    pub start: Ticks,
    /// Where it ends: where it arrives, if it does.
    pub end: Ticks,
}

/// What a banjo player at a level would play to the band as it stands, in every bar of the song, whoever rests
/// there. `open` is what the band covers of it; of the style it takes over whether banjos vamp in it. Where the last bar leads back to the first, one round.
///
/// Each level keeps the bars of the one before to the finger, but for those in which its own thing is played.
pub fn backup(song: &Arrangement, style: &Style, open: &Coverage, player: Player<'_>) -> Backup {
    let vamps = knows_vamps(style);
    let end = song.end;
    let song = seated(&with_what_comes(song));
    let capo = choose_banjo_capo(song.key);
    let steps = steps(&song);
    let mut planned: Option<Planned> = None;
    for level in Level::ALL.into_iter().filter(|one| *one <= player.level) {
        let player = Player { level, ..player };
        let bars = bar_plans(&song, open, level, vamps, player.seed);
        let stances = Stances::new(&song, &bars, level == Level::Full, capo);
        let mut figures = figures(&song, &steps, &bars, &stances, capo, player);
        figures.extend(break_figures(&song, &bars, capo, level));
        figures.sort_by_key(|figure| figure.during.start);
        planned = Some(plan(&song, bars, stances, figures, capo, planned.as_ref()));
    }
    let Some(planned) = planned else {
        return Backup { capo, picks: Vec::new(), licks: Vec::new(), steps: Vec::new() };
    };
    let named = planned.figures.iter().filter(|figure| figure.during.start < end);
    let licks = named.filter_map(|figure| {
        let (start, end) = (figure.during.start, figure.during.end);
        Some(PlayedLick { name: figure.name.clone()?, start, end })
    });
    let grooves = planned
        .bars
        .iter()
        .zip(&song.bars)
        .filter(|(_, bar)| bar.kind == BarKind::Groove && bar.start < end);
    let patterns = grooves.filter_map(|(plan, bar)| {
        Some(PlayedLick { name: plan.name?.into(), start: bar.start, end: bar.end() })
    });
    let mut licks: Vec<PlayedLick> = licks.chain(patterns).collect();
    licks.sort_by_key(|lick| lick.start);
    Backup { capo, picks: picks_of(&planned.steps), licks, steps: planned.steps }
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
