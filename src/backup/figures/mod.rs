//! Where a player leaves the pattern: fills in the singer's pauses, what leads into each change, the way home.

mod alone;
mod approach;
mod fills;
mod lead_ins;
mod maker;
mod ornaments;
mod pauses;
mod reach;

use maker::Maker;
use pauses::pauses;

use super::bars::BarPlan;
use super::figure::Figure;
use super::stance::Stances;
use super::steps::Step;
use super::{Level, Player};
use crate::arrange::Arrangement;

/// All that is played in place of the patterns, in order of time.
pub(super) fn figures(
    song: &Arrangement,
    steps: &[Step],
    plans: &[BarPlan],
    stances: &Stances,
    capo: u8,
    player: Player<'_>,
) -> Vec<Figure> {
    let mut maker = Maker {
        song,
        steps,
        plans,
        stances,
        capo,
        player,
        last: None,
        hand: None,
        following: None,
        made: Vec::new(),
    };
    maker.kickoff();
    if player.level < Level::LeadIns {
        return maker.made;
    }
    let full = player.level == Level::Full;
    let fills = if full { pauses(song, steps, plans) } else { Vec::new() };
    let mut fills = fills.into_iter().peekable();
    if full {
        maker.tag();
    }
    let mut at = 0;
    while at < steps.len() {
        if let Some(fill) = fills.next_if(|fill| fill.start <= at) {
            // A kickoff has arrived where the form begins, whoever pauses there.
            let arrived = fill.start == 0 && maker.arrives_at(0);
            maker.fill(fill.start + usize::from(arrived)..fill.end);
            at = fill.end.max(at + 1);
            continue;
        }
        let limit = fills.peek().map_or(usize::MAX, |fill| fill.start);
        let from = at;
        at = maker.span_end(at).min(limit);
        // Where a fill comes next, it says what there is to say.
        if at < limit && !(full && maker.ending(from..at)) {
            maker.lead_in(from..at);
        }
    }
    maker.made.sort_by_key(|figure| figure.during.start);
    if full {
        maker.ornaments();
    }
    maker.made
}
